package web

import (
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
)

// access is what a route asks of its visitor.
type access int

const (
	anyone   access = iota // needs no session: the door, and what carries its own token
	signedIn               // any account; the handler filters by role
	keepers                // keepers only
)

// forwarding headers say that a proxy stands in front, and with it perhaps the
// whole world.
var forwarding = []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip"}

// checkHost refuses a request for a name that is not ours: a page elsewhere
// can make its own name point here (DNS rebinding).
func (s *Server) checkHost(r *http.Request) error {
	if s.public != nil {
		if !sameHost(r.Host, s.public.Host, s.public.Scheme) {
			return refuse(http.StatusMisdirectedRequest, "This is not the address lentic answers at.")
		}
		return nil
	}
	if host, _ := splitHost(r.Host); !isLoopback(host) {
		return &problem{status: http.StatusMisdirectedRequest, detail: "Without public_url lentic answers at this machine's own address only, as 127.0.0.1.",
			next: "Set public_url to be reached under another name."}
	}
	return nil
}

// checkOrigin refuses what a page of another origin sends. Browsers name the
// origin with every unsafe request and WebSocket; where they hide it ("null")
// or a program sends none, what the browser says of the site decides.
func (s *Server) checkOrigin(r *http.Request) error {
	foreign := refuse(http.StatusForbidden, "This request comes from a page of another origin, which may not send it.")
	site := r.Header.Get("Sec-Fetch-Site")
	origin := r.Header.Get("Origin")
	switch {
	case origin == "" && (site == "" || site == "same-origin" || site == "none"):
		return nil
	case origin == "null" && site == "same-origin":
		return nil
	case origin == "" || !s.ownOrigin(r, origin):
		return foreign
	}
	return nil
}

func (s *Server) ownOrigin(r *http.Request, origin string) bool {
	u, err := url.Parse(origin)
	if err != nil || u.Host == "" {
		return false
	}
	if s.public != nil {
		return u.Scheme == s.public.Scheme && sameHost(u.Host, s.public.Host, s.public.Scheme)
	}
	return u.Scheme == "http" && sameHost(u.Host, r.Host, "http")
}

// checkOpen refuses what may come from elsewhere while nobody needs to sign in.
func (s *Server) checkOpen(r *http.Request) error {
	for _, h := range forwarding {
		if r.Header.Get(h) != "" {
			return &problem{status: http.StatusForbidden,
				detail: "A proxy stands in front (" + h + "), so the world may come in, and nobody needs to sign in yet.",
				next:   "Set public_url and add an account with `lentic user add`."}
		}
	}
	if host, _ := splitHost(r.RemoteAddr); !isLoopback(host) {
		return refuse(http.StatusForbidden, "Only this machine itself may come in without signing in.")
	}
	if r.Header.Get("Origin") != "" {
		return s.checkOrigin(r) // reading is for our own pages too
	}
	return nil
}

// mayChange reports whether the request asks for more than to be shown
// something: then its origin matters.
func mayChange(r *http.Request) bool {
	return r.Method != http.MethodGet && r.Method != http.MethodHead || isUpgrade(r)
}

func isUpgrade(r *http.Request) bool {
	return strings.EqualFold(r.Header.Get("Upgrade"), "websocket")
}

// admit checks a request against the route's access and says who asks.
func (s *Server) admit(r *http.Request, need access) (visitor, error) {
	if err := s.checkHost(r); err != nil {
		return visitor{}, err
	}
	v, err := s.identify(r)
	if err != nil {
		return visitor{}, err
	}
	if v.open {
		if err := s.checkOpen(r); err != nil {
			return visitor{}, err
		}
	}
	if mayChange(r) && !v.bearer {
		if err := s.checkOrigin(r); err != nil {
			return visitor{}, err
		}
	}
	switch {
	case need == anyone:
		return v, nil
	case v.nobody():
		return v, errSignIn
	case need == keepers && !v.Acts():
		return v, refuse(http.StatusForbidden, "This account may look and not act.")
	}
	return v, nil
}

var errSignIn = &problem{status: http.StatusUnauthorized, detail: "Sign in first, or send a bearer token."}

// isLoopback reports whether a host, without its port, is this machine itself.
func isLoopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return err == nil && a.IsLoopback()
}

// splitHost takes the port off a host, if there is one.
func splitHost(hostport string) (host, port string) {
	host, port, err := net.SplitHostPort(hostport)
	if err != nil {
		return hostport, ""
	}
	return host, port
}

// sameHost compares hosts whose default port may be left out.
func sameHost(a, b, scheme string) bool {
	return strings.EqualFold(withPort(a, scheme), withPort(b, scheme))
}

func withPort(hostport, scheme string) string {
	host, port := splitHost(hostport)
	if port == "" {
		port = map[string]string{"http": "80", "https": "443"}[scheme]
	}
	return net.JoinHostPort(strings.Trim(host, "[]"), port)
}
