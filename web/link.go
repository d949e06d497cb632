package web

import (
	"errors"
	"net/http"
	"net/url"

	"lentic/collector/aquarium"
	"lentic/web/account"
)

// recipient is whom a texted link was sent to: no session, and of that alarm
// only. It reads as a keeper does, for the way to the tank stands beside the
// alarm; the frame shows nothing else.
var recipient = visitor{User: account.User{Role: account.Keeper}}

// link shows the alarm of a texted link. It changes nothing: programs that look
// at links before people do must not acknowledge.
func (s *Server) link(w http.ResponseWriter, r *http.Request, _ visitor) error {
	a, err := s.byToken(r)
	if err != nil {
		return err
	}
	p := s.alarmPage(a, recipient)
	p.Frame, p.Token, p.Told = s.said(s.door(), r), r.PathValue("token"), nil
	s.show(w, r, http.StatusOK, p)
	return nil
}

func (s *Server) linkDeed(w http.ResponseWriter, r *http.Request, _ visitor) error {
	if err := r.ParseForm(); err != nil {
		return badRequest("The form could not be read.")
	}
	a, err := s.byToken(r)
	if err != nil {
		return err
	}
	if act := r.PostForm.Get("act"); act != "" && act != "acknowledge" {
		return refuse(http.StatusForbidden, "A texted link may acknowledge its alarm and nothing else.")
	}
	token := r.PathValue("token")
	err = s.Desk.AcknowledgeByToken(token, cut(r.PostForm.Get("note"), maxNote))
	if errors.Is(err, aquarium.ErrNotPossible) && a.AcknowledgedAt != 0 {
		err = nil // somebody did before
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/a/"+url.PathEscape(token)+"?done=acknowledged", http.StatusSeeOther)
	return nil
}

// byToken finds a link's alarm. Unknown, expired and malformed tokens are
// answered alike. Who sends many of them is slowed down, and only while they
// miss: nobody's guessing may lock out the one who was woken up, and a token
// is too long to be guessed.
func (s *Server) byToken(r *http.Request) (aquarium.Alarm, error) {
	a, _, err := s.Desk.ByToken(r.PathValue("token"))
	if err == nil {
		return a, nil
	}
	if !errors.Is(err, aquarium.ErrUnknownAlarm) {
		return a, err
	}
	now, from := s.Now(), s.sender(r)
	if wait := s.misses.wait(now, from); wait > 0 {
		return a, &problem{status: http.StatusTooManyRequests, retry: wait, detail: "Too many links that lead nowhere.", next: "Wait a minute."}
	}
	s.misses.count(now, from)
	return a, &problem{status: http.StatusNotFound, detail: "This link does not lead to an alarm, or no longer does: it is good for 72 hours.",
		next: "Sign in to see what stands now."}
}
