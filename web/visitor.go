package web

import (
	"fmt"
	"net/http"
	"strings"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/web/account"
)

// visitor is who asks. The zero visitor is nobody, who may see the door only.
type visitor struct {
	account.User
	// open marks the visitor from this very machine while there is neither
	// an account nor a public URL: a keeper without a name.
	open    bool
	bearer  bool   // came with a bearer token: no browser that can be led astray
	secret  string // of the session, to renew it or end it
	session account.Session
}

func (v visitor) nobody() bool { return v.Role == "" }

// by is the visitor's name in records.
func (v visitor) by() aquarium.PersonID { return aquarium.PersonID(v.Name) }

// identify finds out who asks. A wrong bearer token is an error and not
// nobody: a program should learn that its token is dead.
func (s *Server) identify(r *http.Request) (v visitor, err error) {
	secret := ""
	if c, err := r.Cookie(s.cookieName()); err == nil {
		secret = c.Value
	}
	authorization := r.Header.Get("Authorization")
	err = s.Ledger.View(func(tx ledger.Tx) error {
		if authorization != "" {
			return v.byToken(tx, authorization)
		}
		var found bool
		var err error
		if v.session, v.User, found, err = account.Resume(tx, s.now(), secret); err != nil || found {
			v.secret = secret
			return err
		}
		any, err := account.Any(tx)
		if err == nil && !any && s.public == nil {
			v.open, v.Role = true, account.Keeper
		}
		return err
	})
	if err != nil {
		return visitor{}, fmt.Errorf("identify a visitor: %w", err)
	}
	return v, nil
}

func (v *visitor) byToken(tx ledger.Tx, authorization string) error {
	scheme, token, _ := strings.Cut(authorization, " ")
	if !strings.EqualFold(scheme, "Bearer") {
		return refuse(http.StatusUnauthorized, "Authorization %q is not taken: want Bearer and a token.", scheme)
	}
	u, found, err := account.Bearer(tx, strings.TrimSpace(token))
	if err != nil {
		return err
	}
	if !found {
		return &problem{status: http.StatusUnauthorized, detail: "This token is unknown or was revoked.",
			next: "Make another with `lentic user token`."}
	}
	v.User, v.bearer = u, true
	return nil
}

// cookieName is the session cookie's. Under https its prefix makes browsers
// insist that it came from this very host, over TLS (RFC 6265bis, 4.1.3.2).
func (s *Server) cookieName() string {
	if s.secure() {
		return "__Host-lentic"
	}
	return "lentic"
}

func (s *Server) secure() bool { return s.public != nil && s.public.Scheme == "https" }

// setCookie gives the browser its session's secret; an empty one takes it away.
func (s *Server) setCookie(w http.ResponseWriter, secret string) {
	c := &http.Cookie{Name: s.cookieName(), Value: secret, Path: "/", HttpOnly: true,
		Secure: s.secure(), SameSite: http.SameSiteLaxMode, MaxAge: int(account.Idle.Seconds())}
	if secret == "" {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}

// renew gives a browser a fresh secret once its old one has served its time.
func (s *Server) renew(w http.ResponseWriter, v visitor) {
	if v.secret == "" || !v.session.Due(s.now()) {
		return
	}
	var fresh string
	err := s.Ledger.Update(func(tx ledger.Tx) (err error) {
		fresh, err = account.Renew(tx, s.now(), v.secret)
		return err
	})
	if err != nil { // another request of the same browser was faster, or the disk is full: the old one serves on
		s.Log.Debug("session not renewed", "err", err)
		return
	}
	s.setCookie(w, fresh)
}
