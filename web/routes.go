package web

import (
	"net/http"
)

// handler answers a request for a visitor who was admitted, or returns why it
// cannot.
type handler func(w http.ResponseWriter, r *http.Request, v visitor) error

type route struct {
	pattern string
	need    access
	handle  handler
}

// maxBody is the most a form or command may send.
const maxBody = 64 << 10

func (s *Server) table() []route {
	return []route{
		{"GET /{$}", signedIn, s.rounds},
		{"GET /tank/{site}/{tank}", signedIn, s.tank},
		{"GET /alarm/{id}", signedIn, s.alarm},
		{"POST /alarm/{id}", keepers, s.alarmDeed},
		{"GET /a/{token}", anyone, s.link},
		{"POST /a/{token}", anyone, s.linkDeed},
		{"GET /before", signedIn, s.beforeAll},
		{"GET /before/{site}/{tank}", signedIn, s.before},
		{"GET /intake", keepers, s.intake},
		{"GET /texts", keepers, s.texts},
		{"GET /visit/{site}/{tank}", keepers, s.visit},
		{"POST /visit/{site}/{tank}", keepers, s.visitDeed},
		{"GET /login", anyone, s.login},
		{"POST /login", anyone, s.signIn},
		{"POST /logout", anyone, s.signOut},
		{"GET /static/{name}", anyone, s.static},
		{"GET /healthz", anyone, s.healthz},
		{"GET /metrics", signedIn, s.metrics},
		{"GET /api/v1/sites", signedIn, s.apiSites},
		{"GET /api/v1/readings", signedIn, s.apiReadings},
		{"GET /api/v1/alarms", signedIn, s.apiAlarms},
		{"POST /api/v1/alarms/{id}/acknowledge", keepers, s.apiAcknowledge},
		{"POST /api/v1/alarms/{id}/shelve", keepers, s.apiShelve},
		{"GET /api/v1/live", signedIn, s.apiLive},
	}
}

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	for _, rt := range s.table() {
		mux.Handle(rt.pattern, s.guarded(rt.need, rt.handle))
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.protect(w, r)
		if h, pattern := mux.Handler(r); pattern == "" {
			s.guarded(anyone, unrouted(h)).ServeHTTP(w, r)
			return
		}
		mux.ServeHTTP(w, r)
	})
}

// guarded lets a handler answer those who may ask.
func (s *Server) guarded(need access, h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		v, err := s.admit(r, need)
		if err == errSignIn && !forProgram(r) && !mayChange(r) {
			s.toLogin(w, r)
			return
		}
		if err == nil {
			s.renew(w, v)
			err = h(w, r, v)
		}
		if err != nil {
			s.answer(w, r, v, err)
		}
	})
}

// unrouted says what the router would have said, in our own words: unknown
// path, or a method the path does not have.
func unrouted(h http.Handler) handler {
	return func(w http.ResponseWriter, r *http.Request, _ visitor) error {
		rec := &statusOnly{header: http.Header{}}
		h.ServeHTTP(rec, r)
		if to := rec.header.Get("Location"); to != "" { // a path written untidily
			http.Redirect(w, r, to, rec.status)
			return nil
		}
		if allow := rec.header.Get("Allow"); allow != "" {
			w.Header().Set("Allow", allow)
			return refuse(http.StatusMethodNotAllowed, "%s is not possible here: want %s.", r.Method, allow)
		}
		return &problem{status: http.StatusNotFound, detail: "There is nothing at this address.",
			next: "Perhaps the link is old."}
	}
}

// statusOnly takes an answer and keeps its head.
type statusOnly struct {
	header http.Header
	status int
}

func (s *statusOnly) Header() http.Header         { return s.header }
func (s *statusOnly) Write(b []byte) (int, error) { return len(b), nil }
func (s *statusOnly) WriteHeader(code int)        { s.status = code }

// protect sets what every answer carries. Nothing may come from elsewhere or
// stand inline, nobody may frame a page, and nothing is kept by caches.
// Referrers stay within lentic, for a texted link opens an alarm: "same-origin"
// and not "no-referrer", which makes browsers hide the origin of our own forms
// as well (Fetch standard, "append a request Origin header").
func (s *Server) protect(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", s.policy(r))
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("X-Robots-Tag", "noindex, nofollow")
	h.Set("Cache-Control", "no-store")
}

// policy names the stream's address apart, for browsers that do not count a
// WebSocket to the same host as 'self'.
func (s *Server) policy(r *http.Request) string {
	stream := ""
	switch {
	case s.public != nil && s.secure():
		stream = " wss://" + s.public.Host
	case s.public != nil:
		stream = " ws://" + s.public.Host
	case s.checkHost(r) == nil && !badInPolicy(r.Host):
		stream = " ws://" + r.Host
	}
	return "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'" + stream +
		"; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
}

// badInPolicy reports whether a host could end its directive.
func badInPolicy(host string) bool {
	for _, c := range host {
		if c == ';' || c == ',' || c <= ' ' {
			return true
		}
	}
	return false
}
