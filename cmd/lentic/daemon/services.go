package daemon

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/alert"
	"lentic/alert/channel"
	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/store"
)

// storeName is the database in the data directory.
const storeName = "lentic.db"

// services is what every operation works on: the store, the desk over it, and
// the configuration in force. In the daemon they run; beside it, or without
// one, they are only opened.
type services struct {
	cfg   atomic.Pointer[config.Config]
	store *store.Store
	desk  *alert.Desk
	past  *past
	now   func() time.Time
	log   *slog.Logger
	// reload has the daemon read its file again, which must be the one named;
	// nil where none runs.
	reload func(file string) error
	// adopt hands unclaimed messages to the intake; nil where none runs.
	adopt func() (int, error)
}

// clock is the time services go by; a demo may run faster than the world.
type clock struct {
	now   func() time.Time
	after func(time.Duration) <-chan time.Time
}

func (c clock) orWorld() clock {
	if c.now == nil {
		c.now = time.Now
	}
	if c.after == nil {
		c.after = time.After
	}
	return c
}

// open opens the store and builds the desk over it. Nothing moves yet.
func open(cfg *config.Config, version string, c clock, o deskOptions, log *slog.Logger) (*services, error) {
	if err := os.MkdirAll(cfg.Data, 0o700); err != nil {
		return nil, fmt.Errorf("data directory: %w", err)
	}
	c = c.orWorld()
	s := &services{now: c.now, log: log}
	s.past = newPast(s)
	s.cfg.Store(cfg)
	db, err := store.Open(filepath.Join(cfg.Data, storeName), store.Options{
		Now: c.now, Log: log, Writer: "lentic " + version, Good: s.counts, Metrics: o.metrics,
	})
	if err != nil {
		return nil, err
	}
	s.store = db
	setup, err := setupOf(cfg, o.linkBase)
	if err == nil {
		s.desk, err = alert.New(alert.Options{
			Setup: setup, History: db, Ledger: db, Now: c.now, After: c.after, Log: log,
			Metrics: o.metrics, OnTransition: o.onTransition,
		})
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return s, nil
}

// counts tells which values of a sensor may enter the sums that charts are
// drawn from: what its quantity can be, as the configuration in force has it.
func (s *services) counts(k aquarium.SensorKey) func(float64, aquarium.Unit) bool {
	site := s.cfg.Load().Site(k.Site)
	if site == nil {
		return nil
	}
	tank := site.Tank(k.Tank)
	if tank == nil {
		return nil
	}
	sensor := tank.Sensor(k.Sensor)
	if sensor == nil {
		return nil
	}
	return measure.Countable(*sensor)
}

// deskOptions are what only the running daemon gives its desk.
type deskOptions struct {
	linkBase     string // in place of public_url; the demo's
	metrics      prometheus.Registerer
	onTransition func(aquarium.Alarm)
}

// openOffline opens them for one command while no daemon runs.
func openOffline(cfg *config.Config, version string) (*services, error) {
	return open(cfg, version, clock{}, deskOptions{}, slog.New(slog.DiscardHandler))
}

func (s *services) close() error { return s.store.Close() }

// setupOf is the part of the desk that a configuration decides.
func setupOf(cfg *config.Config, linkBase string) (alert.Setup, error) {
	senders := map[aquarium.ChannelID]alert.Sender{}
	for _, c := range cfg.Channels {
		sender, err := senderOf(c)
		if err != nil {
			return alert.Setup{}, fmt.Errorf("channel %q: %w", c.ID, err)
		}
		senders[c.ID] = sender
	}
	if linkBase == "" {
		linkBase = cfg.PublicURL
	}
	return alert.Setup{Sites: cfg.Sites, People: cfg.People, CallOut: cfg.CallOut, Senders: senders, PublicURL: linkBase}, nil
}

func senderOf(c config.Channel) (alert.Sender, error) {
	if c.HTTP != nil {
		headers, secrets := map[string]string{}, []string{}
		for k, v := range c.HTTP.Headers {
			headers[k] = v.Reveal()
		}
		for _, s := range c.HTTP.Secrets {
			secrets = append(secrets, s.Reveal())
		}
		return channel.NewHTTP(channel.HTTPOptions{
			URL: c.HTTP.URL, Method: c.HTTP.Method, Headers: headers, Body: c.HTTP.Body, Secrets: secrets,
			Accepted: channel.Accepted{Status: c.HTTP.Accepted.Status, Pointer: c.HTTP.Accepted.Pointer, Equals: c.HTTP.Accepted.Equals},
		})
	}
	return channel.NewSMTP(channel.SMTPOptions{
		Host: c.SMTP.Host, Port: c.SMTP.Port, Username: c.SMTP.Username, Password: c.SMTP.Password.Reveal(), From: c.SMTP.From,
	})
}
