package daemon

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"sync"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector"
	"lentic/collector/aquarium"
	"lentic/collector/broker"
	"lentic/collector/wire"
)

// newBroker is lentic's own broker, as configured.
func (d *Daemon) newBroker(m *config.MQTT) (*broker.Broker, error) {
	o := broker.Options{
		Address: m.Address, WebSocket: m.WebSocket, Now: d.s.now, Log: d.o.Log, Metrics: d.registry,
		Offer: d.intake.Offer,
		May: func(site aquarium.SiteID, topic string) bool {
			return d.intake.Registry().May(site, topic)
		},
	}
	if m.Certificate != nil {
		o.TLS = &tls.Config{Certificates: []tls.Certificate{*m.Certificate}, MinVersion: tls.VersionTLS12}
	}
	for _, g := range m.Gateways {
		o.Gateways = append(o.Gateways, broker.Gateway{ID: g.ID, Site: g.Site, Password: g.Password.Reveal()})
	}
	return broker.New(o)
}

// lostAfter is how long no broker may be heard before that is an alarm.
const lostAfter = 5 * time.Minute

// brokerLink is the subscription to somebody else's broker, and what its
// absence means: silence proves nothing then, and after a while it is an alarm.
type brokerLink struct {
	d   *Daemon
	sub *collector.Subscription

	mu   sync.Mutex // guards all below
	up   bool
	lost *time.Timer // raises intake-lost; nil while connected
}

func newBrokerLink(cfg *config.Config, d *Daemon) (*brokerLink, error) {
	l := &brokerLink{d: d}
	o := collector.SubscriptionOptions{
		URL: cfg.Broker.URL, Username: cfg.Broker.Username, Password: cfg.Broker.Password.Reveal(),
		ClientID: "lentic-" + d.s.store.ID()[:16], Topics: d.intake.Registry().Filters(),
		Offer: d.intake.Offer, OnState: l.state, Now: d.s.now, Log: d.o.Log,
	}
	if cfg.Broker.CA != nil {
		o.CA = x509.NewCertPool()
		if !o.CA.AppendCertsFromPEM(cfg.Broker.CA) {
			return nil, errors.New("broker.ca_file holds no certificate")
		}
	}
	var err error
	l.sub, err = collector.NewSubscription(o)
	return l, err
}

func (l *brokerLink) run(ctx context.Context) error {
	l.state(false) // until it is heard
	defer l.settle()
	return l.sub.Run(ctx)
}

// settle takes the pending alarm back: lentic is stopping, which is no loss.
func (l *brokerLink) settle() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.lost != nil {
		l.lost.Stop()
	}
}

func (l *brokerLink) connected() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.up
}

func (l *brokerLink) state(up bool) {
	l.mu.Lock()
	changed := l.up != up || l.lost == nil && !up
	l.up = up
	switch {
	case up && l.lost != nil:
		l.lost.Stop()
		l.lost = nil
	case !up && l.lost == nil:
		l.lost = time.AfterFunc(lostAfter, l.overdue)
	}
	l.mu.Unlock()
	if !changed {
		return
	}
	l.d.hearing.set(noBroker, !up)
	if up {
		l.d.own(aquarium.IntakeLost, false, aquarium.Evidence{})
	}
}

// overdue raises intake-lost, unless it is lentic that stays away: then disk-low
// stands already, and one trouble is one alarm.
func (l *brokerLink) overdue() {
	if !l.d.hearing.full() {
		l.d.own(aquarium.IntakeLost, true, aquarium.Evidence{})
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.lost != nil {
		l.lost.Reset(lostAfter)
	}
}

// reload reads the file again and puts it in force, or raises
// configuration-refused and leaves everything as it is. Whoever means another
// file than lentic runs on is told.
func (d *Daemon) reload(file string) error {
	if d.o.Config != nil {
		return errors.New("this lentic runs on a configuration of its own")
	}
	if own, err := filepath.Abs(d.o.ConfigPath); err != nil || !sameFile(own, file) {
		return UsageError("lentic runs on %s, and that is what it reads again: put the change there, or start it anew with -c %s", own, file)
	}
	cfg, problems := config.Load(d.o.ConfigPath, config.OS)
	if len(problems) == 0 {
		problems = d.fixed(cfg)
	}
	if len(problems) > 0 {
		d.ownRefused(problems)
		return problems
	}
	setup, err := setupOf(cfg, d.o.LinkBase)
	if err != nil {
		return err
	}
	if err := keepAccepted(cfg); err != nil {
		return err
	}
	if err := d.s.desk.Configure(setup); err != nil {
		return err
	}
	registry := wire.NewRegistry(cfg.Prefix, cfg.Sites)
	registry.Inherit(d.intake.Registry())
	d.sink.derivers.Store(newDerivers(cfg.Sites))
	d.intake.SetRegistry(registry)
	if d.link != nil {
		d.link.sub.SetTopics(registry.Filters())
	}
	d.web.Configure(cfg.Sites, cfg.People)
	d.s.cfg.Store(cfg)
	d.ownRefused(nil)
	_, err = d.adopt()
	return err
}

func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return a == b || err1 == nil && err2 == nil && os.SameFile(x, y)
}

// fixed lists what a running daemon cannot change: where it listens, to whom,
// and where it keeps its data.
func (d *Daemon) fixed(cfg *config.Config) config.Problems {
	old := d.s.cfg.Load()
	var ps config.Problems
	say := func(key string) {
		ps = append(ps, config.Problem{File: cfg.File, Text: key + " cannot change while lentic runs: restart it"})
	}
	if cfg.Data != old.Data {
		say("data")
	}
	if cfg.Web != old.Web {
		say("listen.web")
	}
	if cfg.PublicURL != old.PublicURL {
		say("public_url")
	}
	if !sameMQTT(cfg.MQTT, old.MQTT) {
		say("listen.mqtt")
	}
	if !reflect.DeepEqual(cfg.Broker, old.Broker) {
		say("broker")
	}
	return ps
}

// sameMQTT compares certificates by what they say: as a key is used it
// remembers things.
func sameMQTT(a, b *config.MQTT) bool {
	if a == nil || b == nil {
		return a == b
	}
	x, y := *a, *b
	var p, q [][]byte
	if x.Certificate != nil {
		p, x.Certificate = x.Certificate.Certificate, nil
	}
	if y.Certificate != nil {
		q, y.Certificate = y.Certificate.Certificate, nil
	}
	return reflect.DeepEqual(x, y) && reflect.DeepEqual(p, q)
}

// adopt offers the messages of topics that are claimed now to the intake, as
// they arrived then, and reports how many.
func (d *Daemon) adopt() (int, error) {
	var topics []string
	for _, t := range d.s.store.UnclaimedTopics() {
		if d.intake.Registry().Claims(t.Topic) {
			topics = append(topics, t.Topic)
		}
	}
	if len(topics) == 0 {
		return 0, nil
	}
	return d.s.store.TakeUnclaimed(topics, func(us []aquarium.Unclaimed) error {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		var left sync.WaitGroup
		for _, u := range us {
			left.Add(1)
			d.intake.Offer(ctx, wire.Message{Topic: u.Topic, Payload: u.Payload, QoS: 1, Arrived: u.Arrived, Source: "kept unclaimed"}, left.Done)
		}
		// They are dropped from where they were kept only once they are
		// on disk as readings.
		committed := make(chan struct{})
		go func() { left.Wait(); close(committed) }()
		select {
		case <-committed:
			return nil
		case <-ctx.Done():
			return errors.New("the intake did not take them in time; they stay kept")
		}
	})
}
