package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"sync"
	"sync/atomic"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/web/account"
	"lentic/web/ui"
)

// ErrExposed: an address that others can reach needs a public URL and an
// account; without both, whoever finds it could act.
var ErrExposed = errors.New("a web address that others can reach needs public_url and an account (lentic user add)")

// How long one request may take, and the stop as a whole.
const (
	headerTimeout = 5 * time.Second
	readTimeout   = 20 * time.Second
	writeTimeout  = time.Minute
	idleTimeout   = 2 * time.Minute
	stopTimeout   = 5 * time.Second
)

// Server answers browsers and programs. It may be used by many at once.
type Server struct {
	Options
	public  *url.URL // nil: loopback only
	scene   atomic.Pointer[scene]
	habits  atomic.Pointer[habits] // of the scene's sensors
	assets  ui.Assets
	handler http.Handler
	logins  *throttle
	misses  *throttle
	hashing chan struct{}  // holds a place for each password being hashed
	live    sync.WaitGroup // streams, which http.Server does not wait for
	bound   chan struct{}  // closed once listening, or once Run gave up
	addr    net.Addr       // set before bound is closed
	once    sync.Once      // closes bound
	stop    chan struct{}  // closed when streams must end
	halt    sync.Once      // closes stop
}

// New builds a Server; nothing moves before Run. The error is about the public
// URL or a missing bundle of style and script.
func New(o Options) (*Server, error) {
	s := &Server{Options: o.withDefaults(), bound: make(chan struct{}), stop: make(chan struct{})}
	var err error
	if s.public, err = parsePublic(o.PublicURL); err != nil {
		return nil, err
	}
	if s.assets, err = s.bundle(); err != nil {
		return nil, err
	}
	s.logins = newThrottle(loginBurst, loginEvery)
	s.misses = newThrottle(missBurst, missEvery)
	s.hashing = make(chan struct{}, hashingAtOnce)
	s.Configure(o.Sites, o.People)
	s.handler = s.routes()
	return s, nil
}

// Configure replaces the sites and people that are shown. Sites and what they
// point to must not be changed afterwards.
func (s *Server) Configure(sites []aquarium.Site, people []aquarium.Person) {
	s.scene.Store(newScene(sites, people))
	s.habits.Store(newHabits())
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Run listens until ctx ends, then lets requests finish, ends the streams and
// returns when all have. It may be called once.
func (s *Server) Run(ctx context.Context) error {
	defer s.markBound()
	if err := s.checkExposure(); err != nil {
		return err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", s.Address)
	if err != nil {
		return fmt.Errorf("listen for the pages at %s: %w", s.Address, err)
	}
	s.addr = l.Addr()
	s.markBound()
	srv := &http.Server{
		Handler:           s,
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       readTimeout,
		WriteTimeout:      writeTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(s.Log.Handler(), slog.LevelDebug),
	}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err := <-done:
		s.end()
		return fmt.Errorf("serve the pages at %s: %w", s.addr, err)
	case <-ctx.Done():
	}
	s.end()
	limit, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTimeout)
	defer cancel()
	err = srv.Shutdown(limit)
	if err != nil { // somebody is still reading: cut them off
		err = errors.Join(fmt.Errorf("stop serving the pages: %w", err), srv.Close())
	}
	<-done
	s.live.Wait()
	return err
}

// end makes the streams end: their browsers come back and ask again.
func (s *Server) end() {
	s.halt.Do(func() { close(s.stop) })
	s.Feed.Close()
}

func (s *Server) markBound() { s.once.Do(func() { close(s.bound) }) }

// Addr waits until Run listens and is the address it listens at; nil when it
// could not.
func (s *Server) Addr() net.Addr {
	<-s.bound
	return s.addr
}

func (s *Server) checkExposure() error {
	host, _, err := net.SplitHostPort(s.Address)
	if err != nil {
		return fmt.Errorf("web address %q: want host:port: %w", s.Address, err)
	}
	if isLoopback(host) {
		return nil
	}
	any, err := s.anyAccount()
	if err != nil {
		return err
	}
	if s.public == nil || !any {
		return fmt.Errorf("web address %s: %w", s.Address, ErrExposed)
	}
	return nil
}

func (s *Server) now() aquarium.Instant { return aquarium.At(s.Now()) }

func (s *Server) anyAccount() (any bool, err error) {
	err = s.Ledger.View(func(tx ledger.Tx) error {
		any, err = account.Any(tx)
		return err
	})
	return any, err
}
