package scene

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"sync"
	"time"
)

// Text is one message as it reached the provider.
type Text struct {
	To, Text string
	At       time.Time
}

// Provider is a text provider on loopback: it takes what a real one would
// take, answers as a real one would, and shows each text where a telephone
// would ring.
type Provider struct {
	listener net.Listener
	show     io.Writer
	now      func() time.Time

	mu    sync.Mutex // guards texts and serializes show
	texts []Text
}

// NewProvider listens on a free loopback port. Texts are printed to show.
func NewProvider(show io.Writer, now func() time.Time) (*Provider, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("text provider: %w", err)
	}
	return &Provider{listener: l, show: show, now: now}, nil
}

// URL is where texts are to be sent.
func (p *Provider) URL() string { return "http://" + p.listener.Addr().String() }

// Texts lists what arrived, oldest first.
func (p *Provider) Texts() []Text {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]Text(nil), p.texts...)
}

// Run answers until ctx ends.
func (p *Provider) Run(ctx context.Context) error {
	mux := http.NewServeMux()
	mux.HandleFunc("POST /send", p.send)
	srv := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(p.listener) }()
	select {
	case err := <-done:
		return fmt.Errorf("text provider: %w", err)
	case <-ctx.Done():
		srv.Close()
		<-done
		return nil
	}
}

func (p *Provider) send(w http.ResponseWriter, r *http.Request) {
	var m struct{ To, Text string }
	err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<16)).Decode(&m)
	if err == nil && (m.To == "" || m.Text == "") {
		err = errors.New("want to and text")
	}
	w.Header().Set("Content-Type", "application/json")
	if err != nil {
		w.WriteHeader(http.StatusBadRequest)
		json.NewEncoder(w).Encode(map[string]string{"status": "refused", "reason": err.Error()})
		return
	}
	p.mu.Lock()
	p.texts = append(p.texts, Text{m.To, m.Text, p.now()})
	fmt.Fprintf(p.show, "\n  %s  text to %s\n  | %s\n", p.now().Format("Mon 15:04:05"), m.To, m.Text)
	p.mu.Unlock()
	json.NewEncoder(w).Encode(map[string]string{"status": "queued"})
}
