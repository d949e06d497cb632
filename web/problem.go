package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// problem is an error with the answer it deserves. Detail is for whoever asked
// and names no secret; cause is for the log.
type problem struct {
	status int
	detail string
	next   string        // what to do about it, in a sentence; empty: nothing
	retry  time.Duration // 0: no hint
	cause  error         // nil: nothing that concerns the log
}

func (p *problem) Error() string {
	if p.cause != nil {
		return p.cause.Error()
	}
	return p.detail
}

func (p *problem) Unwrap() error { return p.cause }

func refuse(status int, format string, args ...any) *problem {
	return &problem{status: status, detail: fmt.Sprintf(format, args...)}
}

func badRequest(format string, args ...any) *problem {
	return refuse(http.StatusBadRequest, format, args...)
}

// problemOf finds the answer for any error. What is not known to be the
// asker's mistake is ours, and its details stay in.
func problemOf(err error) *problem {
	var p *problem
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &tooLarge):
		return refuse(http.StatusRequestEntityTooLarge, "The request has more than %d bytes.", tooLarge.Limit)
	case errors.Is(err, aquarium.ErrUnknownSite), errors.Is(err, aquarium.ErrUnknownTank),
		errors.Is(err, aquarium.ErrUnknownSensor):
		return &problem{status: http.StatusNotFound, detail: sentence(err),
			next: "Perhaps it was renamed in the configuration, or is not for this account to see."}
	case errors.Is(err, aquarium.ErrUnknownAlarm):
		return &problem{status: http.StatusNotFound, detail: "There is no such alarm.",
			next: "The rounds list everything that stands."}
	case errors.Is(err, aquarium.ErrNotPossible):
		return refuse(http.StatusConflict, "%s", sentence(err))
	}
	return &problem{status: http.StatusInternalServerError, cause: err,
		detail: "lentic could not answer this.", next: "Its log has the reason. Try again; the tanks are watched all the same."}
}

// sentence makes an error's text one: "tank "x": unknown tank" begins with a
// capital and ends with a full stop.
func sentence(err error) string {
	s := err.Error()
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// answer is the one place that tells somebody what went wrong.
func (s *Server) answer(w http.ResponseWriter, r *http.Request, v visitor, err error) {
	p := problemOf(err)
	if p.status >= http.StatusInternalServerError && p.cause != nil {
		s.Log.Error("request failed", "path", s.loggable(r), "err", p.cause)
	} else {
		s.Log.Debug("request refused", "path", s.loggable(r), "status", p.status, "err", err)
	}
	if p.retry > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(p.retry.Round(time.Second)/time.Second)+1))
	}
	if p.status == http.StatusUnauthorized { // RFC 9110, 15.5.2: a 401 says how to come in
		w.Header().Set("WWW-Authenticate", `Bearer realm="lentic"`)
	}
	if forProgram(r) {
		writeProblem(w, p)
		return
	}
	f := s.frame(v)
	if v.nobody() || p.status == http.StatusMisdirectedRequest {
		f.Own = nil
	}
	s.show(w, r, p.status, &page.Problem{Frame: f, Status: p.status, Sentence: p.detail, Next: p.next, Link: "/", LinkText: "To the rounds"})
}

// forProgram reports whether a program asked, and not a person.
func forProgram(r *http.Request) bool {
	for _, prefix := range []string{"/api/", "/healthz", "/metrics", "/static/"} {
		if strings.HasPrefix(r.URL.Path, prefix) {
			return true
		}
	}
	return false
}

// loggable is the path without what opens something: a texted link's token.
func (s *Server) loggable(r *http.Request) string {
	if strings.HasPrefix(r.URL.Path, "/a/") {
		return "/a/…"
	}
	return r.URL.Path
}

// writeProblem answers a program as RFC 9457 says.
func writeProblem(w http.ResponseWriter, p *problem) {
	detail := p.detail
	if p.next != "" {
		detail += " " + p.next
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(p.status)
	json.NewEncoder(w).Encode(struct {
		Type   string `json:"type"`
		Title  string `json:"title"`
		Status int    `json:"status"`
		Detail string `json:"detail"`
	}{"about:blank", http.StatusText(p.status), p.status, detail})
}

// writeJSON answers a program.
func writeJSON(w http.ResponseWriter, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("write the answer: %w", err)
	}
	w.Header().Set("Content-Type", "application/json")
	w.Write(append(b, '\n'))
	return nil
}
