package collector

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// SubscriptionOptions say which broker to listen to, and for what.
type SubscriptionOptions struct {
	URL                string // mqtt, mqtts, ws or wss, with host and port
	Username, Password string
	CA                 *x509.CertPool // nil: the system's
	ClientID           string         // fixed, so that the broker keeps what comes while we are away
	Topics             []string       // filters, as of wire.Registry.Filters
	// Offer takes a message and calls done once it is on disk, in the order
	// offered. It may block until there is room.
	Offer func(ctx context.Context, m wire.Message, done func())
	// OnState hears true when the broker has granted all Topics, and false
	// when the connection is lost. Nil: nobody wants to know.
	OnState func(connected bool)
	// Drain is how long Run waits, once told to stop, for what it has
	// offered to be acknowledged; 0 means 5 s.
	Drain time.Duration
	Now   func() time.Time // nil: time.Now
	Log   *slog.Logger     // nil: silent
}

const (
	keepAlive     = 30 * time.Second
	retry         = 5 * time.Second  // between attempts to connect at first, or to subscribe
	retryMost     = 30 * time.Second // and to connect later
	writeMost     = 10 * time.Second
	quiesce       = 250 // milliseconds for the goodbye
	inboxMessages = 200_000
	inboxBytes    = 128 << 20
)

// Subscription takes messages from a broker that is not ours. It connects again
// whenever the connection is lost; what was not acknowledged then comes again.
type Subscription struct {
	opt    SubscriptionOptions
	url    *url.URL
	source string
	inbox  *inbox
	acks   acks
	ctx    context.Context

	mu     sync.Mutex  // guards client, topics and paused
	client paho.Client // nil while paused
	topics []string
	paused bool // stays away for now

	asking sync.WaitGroup // goroutines that subscribe
	up     atomic.Int64   // the number of the present connection
}

// NewSubscription checks the options. Nothing moves before Run.
func NewSubscription(o SubscriptionOptions) (*Subscription, error) {
	u, err := url.Parse(o.URL)
	if err != nil {
		return nil, fmt.Errorf("broker url: %w", err)
	}
	switch u.Scheme {
	case "mqtt", "mqtts", "tcp", "ssl", "tls", "ws", "wss":
	default:
		return nil, fmt.Errorf("broker url %q: scheme %q: want mqtt, mqtts, ws or wss", u.Redacted(), u.Scheme)
	}
	if u.Hostname() == "" {
		return nil, fmt.Errorf("broker url %q has no host: want mqtts://broker.example.net:8883", u.Redacted())
	}
	if u.User != nil {
		return nil, fmt.Errorf("broker url %q holds a user name: give username and password_file instead", u.Redacted())
	}
	if u.Port() == "" {
		ports := map[string]string{"mqtt": "1883", "tcp": "1883", "ws": "80", "wss": "443"}
		port, ok := ports[u.Scheme]
		if !ok {
			port = "8883"
		}
		u.Host += ":" + port
	}
	switch {
	case o.ClientID == "":
		return nil, errors.New("subscription: ClientID is missing: without a fixed one the broker keeps nothing while lentic is away")
	case len(o.Topics) == 0 || o.Offer == nil:
		return nil, errors.New("subscription: Topics and Offer are wanted")
	}
	if o.OnState == nil {
		o.OnState = func(bool) {}
	}
	if o.Drain == 0 {
		o.Drain = 5 * time.Second
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return &Subscription{opt: o, url: u, source: "broker " + u.Host, inbox: newInbox(), topics: o.Topics}, nil
}

// Run stays connected, or trying to be, until ctx ends. Then it takes no more,
// waits for what it has offered to be acknowledged (SubscriptionOptions.Drain
// at most), says goodbye and returns nil. Whoever calls done must go on until
// Run has returned.
func (s *Subscription) Run(ctx context.Context) error {
	offering, giveUp := context.WithCancel(context.WithoutCancel(ctx))
	defer giveUp()
	s.acks.init()
	s.mu.Lock()
	s.ctx = ctx
	s.acks.forgive(s.paused)
	if !s.paused {
		s.call()
	}
	s.mu.Unlock()

	var work sync.WaitGroup
	work.Go(func() { s.feed(offering) })
	work.Go(s.acks.run)
	<-ctx.Done()
	s.inbox.close()
	s.acks.drain(s.opt.Drain)
	giveUp()
	s.mu.Lock()
	client := s.client
	s.mu.Unlock()
	if client != nil {
		client.Disconnect(quiesce)
	}
	s.acks.close()
	work.Wait()
	s.asking.Wait()
	return nil
}

// call connects with a client of its own, which goes on trying in the
// background. The caller holds mu.
func (s *Subscription) call() {
	s.client = paho.NewClient(s.paho())
	s.client.Connect()
}

func (s *Subscription) paho() *paho.ClientOptions {
	o := paho.NewClientOptions().
		AddBroker(s.url.String()).
		SetClientID(s.opt.ClientID).
		SetUsername(s.opt.Username).
		SetPassword(s.opt.Password).
		SetCleanSession(false).
		SetAutoAckDisabled(true).
		// The default handler is there before the first packet: messages
		// of a kept session come before any subscribing. In order it is
		// called by one goroutine; it only queues, for whatever holds it
		// up holds up the answers to pings too.
		SetOrderMatters(true).
		SetDefaultPublishHandler(s.receive).
		// The library would keep unacknowledged messages and play them
		// again after a reconnection, beside the broker's own repeats of
		// them, and each would be acknowledged: the second time by an id
		// that may be another message's by then.
		SetStore(noStore{}).
		SetKeepAlive(keepAlive).
		SetPingTimeout(keepAlive).
		SetWriteTimeout(writeMost).
		SetConnectTimeout(writeMost).
		SetConnectRetry(true).
		SetConnectRetryInterval(retry).
		SetAutoReconnect(true).
		SetMaxReconnectInterval(retryMost).
		SetOnConnectHandler(s.connected).
		SetConnectionLostHandler(s.lost).
		SetConnectionNotificationHandler(s.notice)
	config := &tls.Config{RootCAs: s.opt.CA, MinVersion: tls.VersionTLS12, ServerName: s.url.Hostname()}
	return o.SetCustomOpenConnectionFn(func(u *url.URL, _ paho.ClientOptions) (net.Conn, error) {
		return dial(s.ctx, u, config)
	})
}

// receive queues one message.
func (s *Subscription) receive(_ paho.Client, m paho.Message) {
	s.inbox.put(arrived{m, aquarium.At(s.opt.Now())})
}

// feed offers what is queued, in order, until the inbox is closed; ctx ends when
// even the one being offered then is to be given up.
func (s *Subscription) feed(ctx context.Context) {
	for {
		a, ok := s.inbox.take()
		if !ok {
			return
		}
		s.acks.owe()
		s.opt.Offer(ctx, wire.Message{
			Topic:    a.Topic(),
			Payload:  a.Payload(),
			Retained: a.Retained(), // a live one comes without the flag (MQTT-3.3.1-9)
			QoS:      a.Qos(),
			Arrived:  a.at,
			Source:   s.source,
		}, func() { s.acks.due(a.Message) })
	}
}

// SetTopics asks for other topics, as after a new configuration; a connection
// that stands is kept. What is no longer asked for may still come, and is then
// unclaimed. Before Run it says what Run will ask for.
func (s *Subscription) SetTopics(filters []string) {
	s.mu.Lock()
	s.topics = slices.Clone(filters)
	client := s.client
	s.mu.Unlock()
	if client != nil && client.IsConnectionOpen() {
		s.connected(client)
	}
}

// connected subscribes, on each connection: the broker may have lost the
// session.
func (s *Subscription) connected(paho.Client) {
	n := s.up.Add(1)
	if s.ctx.Err() != nil {
		return
	}
	s.asking.Go(func() {
		for s.ctx.Err() == nil && s.up.Load() == n {
			err := s.subscribe()
			if s.up.Load() != n {
				return // of a connection that is gone
			}
			if err == nil {
				s.opt.Log.Info("listening to the broker", "broker", s.url.Host)
				s.opt.OnState(true)
				return
			}
			s.opt.Log.Error("cannot listen to the broker", "broker", s.url.Host, "err", err)
			select {
			case <-s.ctx.Done():
			case <-time.After(retry):
			}
		}
	})
}

func (s *Subscription) subscribe() error {
	s.mu.Lock()
	client, filters := s.client, map[string]byte{}
	for _, f := range s.topics {
		filters[f] = 1
	}
	s.mu.Unlock()
	if client == nil {
		return errors.New("subscribe: paused")
	}
	token := client.SubscribeMultiple(filters, nil)
	select {
	case <-token.Done():
	case <-s.ctx.Done():
		return s.ctx.Err()
	case <-time.After(keepAlive):
		return errors.New("subscribe: no answer")
	}
	if err := token.Error(); err != nil {
		return fmt.Errorf("subscribe: %w", err)
	}
	if t, ok := token.(*paho.SubscribeToken); ok {
		for f, code := range t.Result() {
			if code > 2 { // 0x80, failure
				return fmt.Errorf("subscribe to %q: the broker refuses: give the user %q the right to read it", f, s.opt.Username)
			}
		}
	}
	return nil
}

func (s *Subscription) lost(_ paho.Client, err error) {
	s.up.Add(1)
	s.opt.Log.Warn("the broker is lost; trying again", "broker", s.url.Host, "err", err)
	s.opt.OnState(false)
}

// notice logs why no connection comes about.
func (s *Subscription) notice(_ paho.Client, n paho.ConnectionNotification) {
	if f, ok := n.(paho.ConnectionNotificationBrokerFailed); ok {
		s.opt.Log.Warn("the broker cannot be reached; trying again", "broker", s.url.Host, "err", f.Reason)
	}
}
