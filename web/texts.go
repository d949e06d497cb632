package web

import (
	"net/http"

	"lentic/alert/text"
	"lentic/web/page"
)

// outboxLimit is how many messages are looked at and shown.
const outboxLimit = 200

func (s *Server) texts(w http.ResponseWriter, r *http.Request, v visitor) error {
	c := s.scene.Load()
	p := &page.Texts{Frame: s.frame(v)}
	for _, m := range s.Desk.Outbox(outboxLimit) {
		out := page.Message{To: c.person(m.To), By: m.By, Subject: m.Subject, Text: m.Text, Written: m.Written, Due: m.Due,
			Sent: m.Sent, Tries: m.Tries, Answer: m.Answer, Lost: m.Lost, Alarm: m.Alarm, Priority: m.Priority}
		if n, ok := text.Septets(m.Text); ok && m.Subject == "" {
			out.Septets = n
		}
		p.Messages = append(p.Messages, out)
	}
	s.show(w, r, http.StatusOK, p)
	return nil
}
