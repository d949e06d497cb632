package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/store"
)

// The control socket is how commands reach the store while the daemon holds
// it: HTTP on DATA/control.sock, which only its owner may open. A command is
// one POST: its name is the path, its arguments a header, what it reads and
// writes the bodies, and how it ended the trailers.
const (
	socketName    = "control.sock"
	argsHeader    = "Lentic-Arguments"
	errorTrailer  = "Lentic-Error"
	statusTrailer = "Lentic-Status"
)

// ErrNotRunning: no daemon answers on the control socket.
var ErrNotRunning = errors.New("no lentic is running on this data directory")

// listenControl takes over a socket left behind by a process that died. The
// store's lock is held by now, so no living daemon can own it.
func listenControl(data string) (net.Listener, error) {
	path, release, err := socketPath(data)
	if err != nil {
		return nil, err
	}
	defer release()
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("control socket: %w", err)
	}
	old := syscall.Umask(0o177) // born with mode 0600, not narrowed afterwards
	l, err := net.Listen("unix", path)
	syscall.Umask(old)
	if err != nil {
		return nil, fmt.Errorf("control socket: %w", err)
	}
	// The path it knows may be gone by then: serveControl removes it.
	l.(*net.UnixListener).SetUnlinkOnClose(false)
	return l, nil
}

// serveControl answers commands until ctx ends, and returns when all have.
func serveControl(ctx context.Context, l net.Listener, s *services) error {
	defer os.Remove(filepath.Join(s.cfg.Load().Data, socketName))
	srv := &http.Server{
		Handler:           controlHandler(s),
		ReadHeaderTimeout: 5 * time.Second,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err := <-done:
		return fmt.Errorf("control socket: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 3*time.Second)
	defer cancel()
	if err := srv.Shutdown(stop); err != nil {
		srv.Close()
	}
	<-done
	return nil
}

func controlHandler(s *services) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Trailer", errorTrailer+", "+statusTrailer)
		name := filepath.Base(r.URL.Path)
		err := s.do(r.Context(), name, []byte(r.Header.Get(argsHeader)), r.Body, w)
		if err != nil {
			w.Header().Set(errorTrailer, strconv.Quote(err.Error()))
			// Who is still sending hears of it only when all is sent.
			_, _ = io.Copy(io.Discard, r.Body)
		}
		w.Header().Set(statusTrailer, strconv.Itoa(ExitStatus(err)))
	})
}

// startLook is how long a command looks for the control socket of a daemon that
// holds the store and is just starting, or just ending.
const startLook = 3 * time.Second

// Call runs an operation through the running daemon, or on the store itself
// where none runs. It never waits for the store's lock: where somebody holds it
// who answers no commands, that is the error.
func Call(ctx context.Context, cfg *config.Config, version, name string, args any, in io.Reader, out io.Writer) error {
	a, err := json.Marshal(args)
	if err != nil {
		return err
	}
	return aroundStart(ctx, func() error {
		err := CallRunning(ctx, cfg, name, args, in, out)
		if !errors.Is(err, ErrNotRunning) {
			return err
		}
		s, err := openOffline(cfg, version)
		if err != nil {
			return err
		}
		return errors.Join(s.do(ctx, name, a, in, out), s.close())
	})
}

// aroundStart tries again for a while what finds the store locked and nobody
// that answers.
func aroundStart(ctx context.Context, try func() error) error {
	for deadline := time.Now().Add(startLook); ; {
		err := try()
		if !errors.Is(err, store.ErrLocked) {
			return err
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("%w; it answers no commands: wait until it has started or ended, or end it", err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// Reload has the daemon read its file again. A file with mistakes is handed to
// it all the same: that it was refused is the daemon's to remember and to tell.
func Reload(ctx context.Context, path string, out io.Writer) error {
	cfg, refused, err := LoadInForce(path)
	if err != nil {
		return err
	}
	file, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	err = CallRunning(ctx, cfg, "reload", ReloadArgs{File: file}, nil, out)
	if len(refused) > 0 && (ExitStatus(err) == ConfigRefused || errors.Is(err, ErrNotRunning)) {
		return refused
	}
	return err
}

// CallRunning runs an operation through the running daemon; ErrNotRunning
// where there is none.
func CallRunning(ctx context.Context, cfg *config.Config, name string, args any, in io.Reader, out io.Writer) error {
	a, err := json.Marshal(args)
	if err != nil {
		return err
	}
	if in != nil {
		in = io.NopCloser(in) // its owner closes it: where nobody answers it is read all the same
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://control/"+name, in)
	if err != nil {
		return err
	}
	req.Header.Set(argsHeader, string(a))
	client := &http.Client{Transport: &http.Transport{
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			path, release, err := socketPath(cfg.Data)
			if err != nil {
				return nil, err
			}
			defer release()
			return new(net.Dialer).DialContext(ctx, "unix", path)
		},
	}}
	defer client.CloseIdleConnections()
	res, err := client.Do(req)
	if err != nil {
		if errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ECONNREFUSED) {
			return fmt.Errorf("%w: %s", ErrNotRunning, cfg.Data)
		}
		return fmt.Errorf("control socket: %w", err)
	}
	defer res.Body.Close()
	if _, err := io.Copy(out, res.Body); err != nil {
		return fmt.Errorf("control socket: the daemon broke off: %w", err)
	}
	return ended(res.Trailer)
}

// ended reads how an operation ended from the trailers; an answer without them
// was cut off.
func ended(t http.Header) error {
	status, err := strconv.Atoi(t.Get(statusTrailer))
	if err != nil {
		return errors.New("control socket: the daemon broke off before the end")
	}
	text := t.Get(errorTrailer)
	if text == "" {
		return nil
	}
	if said, err := strconv.Unquote(text); err == nil {
		text = said
	}
	return WithStatus(status, errors.New(text))
}
