package web

import (
	"net/http"
	"net/url"
	"strings"

	"lentic/store/ledger"
	"lentic/web/account"
	"lentic/web/page"
)

func (s *Server) toLogin(w http.ResponseWriter, r *http.Request) {
	to := "/login"
	if r.URL.Path != "/" {
		to += "?next=" + url.QueryEscape(r.URL.RequestURI())
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

func (s *Server) login(w http.ResponseWriter, r *http.Request, v visitor) error {
	next := ownPath(r.URL.Query().Get("next"))
	if !v.nobody() {
		http.Redirect(w, r, next, http.StatusSeeOther)
		return nil
	}
	p := &page.Login{Frame: s.door(), Next: next}
	if any, err := s.anyAccount(); err != nil {
		return err
	} else if !any {
		p.Problem = "There is no account yet. Make one on the machine lentic runs on: lentic user add."
	}
	s.show(w, r, http.StatusOK, p)
	return nil
}

// signIn answers a wrong name and a wrong password alike, in words and in
// time, and slows down whoever guesses.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request, v visitor) error {
	if err := r.ParseForm(); err != nil {
		return badRequest("The form could not be read.")
	}
	name, password := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("password")
	next := ownPath(r.PostForm.Get("next"))
	now := s.Now()
	keys := []string{"from " + s.sender(r), "name " + name}
	for _, k := range keys {
		if wait := s.logins.wait(now, k); wait > 0 {
			return &problem{status: http.StatusTooManyRequests, retry: wait,
				detail: "Too many wrong passwords.", next: "Wait a minute. A texted link opens its alarm without signing in."}
		}
	}
	u, ok, err := s.check(r, name, password)
	if err != nil {
		return err
	}
	if !ok {
		for _, k := range keys {
			s.logins.count(now, k)
		}
		s.Log.Warn("sign-in refused", "name", cut(name, 32), "from", s.sender(r))
		s.show(w, r, http.StatusUnauthorized, &page.Login{Frame: s.door(), Name: cut(name, 32), Next: next,
			Problem: "Name and password do not belong together."})
		return nil
	}
	var secret string
	err = s.Ledger.Update(func(tx ledger.Tx) (err error) {
		if v.secret != "" { // never go on under a secret from before the sign-in
			if err := account.End(tx, v.secret); err != nil {
				return err
			}
		}
		secret, err = account.Begin(tx, s.now(), u.Name)
		return err
	})
	if err != nil {
		return err
	}
	s.setCookie(w, secret)
	http.Redirect(w, r, next, http.StatusSeeOther)
	return nil
}

// check compares a password outside of any transaction, a few at a time.
func (s *Server) check(r *http.Request, name, password string) (u account.User, ok bool, err error) {
	err = s.Ledger.View(func(tx ledger.Tx) (err error) {
		u, ok, err = account.Find(tx, name)
		return err
	})
	if err != nil {
		return account.User{}, false, err
	}
	select {
	case s.hashing <- struct{}{}:
		defer func() { <-s.hashing }()
	case <-r.Context().Done():
		return account.User{}, false, r.Context().Err()
	}
	if !ok {
		return account.User{}, account.Decoy(password), nil
	}
	return u, u.Password.Matches(password), nil
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request, v visitor) error {
	if v.secret != "" {
		if err := s.Ledger.Update(func(tx ledger.Tx) error { return account.End(tx, v.secret) }); err != nil {
			return err
		}
	}
	s.setCookie(w, "")
	http.Redirect(w, r, "/login", http.StatusSeeOther)
	return nil
}

// sender is the address a request came from. Behind our own proxy it is what
// that proxy wrote last; what stands before it anybody may have written.
func (s *Server) sender(r *http.Request) string {
	host, _ := splitHost(r.RemoteAddr)
	if s.public == nil || !isLoopback(host) {
		return host
	}
	all := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	if last := strings.TrimSpace(all[len(all)-1]); last != "" {
		return cut(last, 64)
	}
	return host
}

// ownPath is a path of ours to go to next, "/" for anything else: "//host" and
// "/\host" would leave.
func ownPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.ContainsAny(p, "\\\r\n\t") {
		return "/"
	}
	return p
}

func cut(s string, n int) string {
	if len(s) > n {
		s = s[:n]
	}
	return strings.ToValidUTF8(s, "")
}
