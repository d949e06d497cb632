package daemon

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"sync"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector"
	"lentic/collector/aquarium"
	"lentic/collector/broker"
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
