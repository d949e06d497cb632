package broker

import (
	"context"
	"crypto/subtle"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net"
	"sync"
	"sync/atomic"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// Gateway is one that may connect, by its id and password.
type Gateway struct {
	ID       aquarium.GatewayID // also its MQTT user name
	Site     aquarium.SiteID
	Password string
}

// What the zero Options mean.
const (
	DefaultPending = 2000
	DefaultDrain   = 5 * time.Second
)

// Options of a Broker. Address and Offer are required; an address other than
// loopback needs TLS and Gateways.
type Options struct {
	Address   string
	TLS       *tls.Config // nil: plain, on loopback only
	WebSocket bool        // MQTT in a WebSocket, at any path
	Gateways  []Gateway   // none: whoever is on this machine may publish anything
	// May reports whether a gateway of that site may publish on a topic; as
	// of wire.Registry.May. Nil: on any.
	May func(site aquarium.SiteID, topic string) bool
	// Offer takes a message and calls done once it is on disk. It may block
	// until there is room, and gives up when ctx ends.
	Offer func(ctx context.Context, m wire.Message, done func())
	// MaxPending is how many messages of one connection may wait for their
	// acknowledgement before it is read no further; 0: DefaultPending.
	MaxPending int
	// Drain is how long Run waits, once told to stop, for what has been
	// taken to be acknowledged; 0: DefaultDrain.
	Drain   time.Duration
	Now     func() time.Time      // nil: time.Now
	Log     *slog.Logger          // nil: silent
	Metrics prometheus.Registerer // nil: counted, not exposed
}

// Broker listens for devices. All methods may be called at once; Run once.
type Broker struct {
	opt      Options
	gateways map[string]Gateway
	server   *mqtt.Server
	listener *listener
	tally    *tally
	stopping chan struct{}   // closed when no more is taken
	paused   atomic.Bool     // takes nothing for now
	offering context.Context // ends when what is being offered is to be given up
	ackers   sync.WaitGroup

	mu       sync.Mutex          // guards sessions, and the conn of each
	sessions map[string]*session // by client id
}

// New checks the options and builds a Broker that listens to nobody yet.
func New(o Options) (*Broker, error) {
	if o.Offer == nil {
		return nil, errors.New("broker: Offer is missing")
	}
	if err := checkAddress(o); err != nil {
		return nil, err
	}
	if o.MaxPending == 0 {
		o.MaxPending = DefaultPending
	}
	if o.Drain == 0 {
		o.Drain = DefaultDrain
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	b := &Broker{
		opt:      o,
		gateways: map[string]Gateway{},
		stopping: make(chan struct{}),
		sessions: map[string]*session{},
	}
	for _, g := range o.Gateways {
		if g.Password == "" {
			return nil, fmt.Errorf("broker: gateway %q has no password", g.ID)
		}
		b.gateways[string(g.ID)] = g
	}
	b.listener = newListener(o)
	b.tally = newTally(o.Metrics, func() float64 { return float64(len(b.listener.conns())) })
	return b, nil
}

// checkAddress keeps strangers out: what listens to other machines is
// encrypted and asks who is there.
func checkAddress(o Options) error {
	host, _, err := net.SplitHostPort(o.Address)
	if err != nil {
		return fmt.Errorf("mqtt address %q: want host:port, as 127.0.0.1:1883: %w", o.Address, err)
	}
	if loopback(host) {
		return nil
	}
	if o.TLS == nil || len(o.Gateways) == 0 {
		return fmt.Errorf("mqtt address %q can be reached by other machines: give it a certificate and gateways with passwords, or listen on 127.0.0.1", o.Address)
	}
	return nil
}

func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// Listen opens the address, so that Addr and a port in use are known early.
// Run does so itself where it has not been done.
func (b *Broker) Listen() error { return b.listener.open() }

// Addr is the address listened on, with its port; "" before Listen.
func (b *Broker) Addr() string { return b.listener.addr() }

// Run serves until ctx ends. Then it takes no more, waits for what it has taken
// to be acknowledged (Options.Drain at most), closes every connection and
// returns nil. Whoever calls done must go on until Run has returned.
func (b *Broker) Run(ctx context.Context) error {
	if err := b.Listen(); err != nil {
		return err
	}
	offering, giveUp := context.WithCancel(context.WithoutCancel(ctx))
	defer giveUp()
	b.offering = offering
	b.server = mqtt.New(b.mochi())
	if err := b.server.AddHook(&hook{b: b}, nil); err != nil {
		return fmt.Errorf("broker: %w", err)
	}
	if err := b.server.AddListener(b.listener); err != nil {
		return fmt.Errorf("broker: %w", err)
	}
	if err := b.server.Serve(); err != nil {
		return fmt.Errorf("broker: %w", err)
	}
	b.opt.Log.Info("listening for devices", "address", b.Addr())
	<-ctx.Done()
	b.listener.refuse()
	close(b.stopping)
	b.drain()
	giveUp()
	b.hangUp()
	err := b.server.Close()
	b.ackers.Wait()
	return err
}

// mochi is how the library is set. It distributes nothing here, so what bounds
// its deliveries is kept small, and what would bound arrivals is out of the
// way: the bound is MaxPending, by waiting to read.
func (b *Broker) mochi() *mqtt.Options {
	c := mqtt.NewDefaultServerCapabilities()
	// Topic (64 KiB at most), packet id and properties come on top of the
	// largest payload that is taken in order to be refused.
	c.MaximumPacketSize = wire.MaxTaken + 128<<10
	// Told to MQTT 5 clients, which then pause by themselves. The library's
	// own count of it never moves, for it sees each publish rejected.
	c.ReceiveMaximum = uint16(min(b.opt.MaxPending, math.MaxUint16))
	c.MaximumClientWritesPending = 16
	c.MaximumClients = 10_000
	// How long the packet ids of a QoS 2 sender that is away are remembered.
	c.MaximumSessionExpiryInterval = 24 * 60 * 60
	c.TopicAliasMaximum = 0
	c.SharedSubAvailable, c.WildcardSubAvailable, c.SubIDAvailable = 0, 0, 0
	return &mqtt.Options{
		Capabilities: c,
		Logger:       slog.New(slog.DiscardHandler), // the hook says what matters
		// Its statistics, which stop the world to read the heap, go to
		// subscribers, and there are none.
		SysTopicResendInterval:  math.MaxInt32,
		ClientNetReadBufferSize: 16 << 10,
	}
}

// drain waits until everything taken is acknowledged.
func (b *Broker) drain() {
	limit := time.NewTimer(b.opt.Drain)
	defer limit.Stop()
	for _, c := range b.listener.conns() {
		select {
		case <-c.empty():
		case <-limit.C:
			b.opt.Log.Warn("stopping with messages unacknowledged: their senders will send them again")
			return
		}
	}
}

// hangUp closes every connection. Left to the library, clients of MQTT 3 would
// be sent a packet that only MQTT 5 knows.
func (b *Broker) hangUp() {
	for _, c := range b.listener.conns() {
		c.cl.Stop(nil)
	}
	b.listener.hangUp()
}

// of is the connection the library calls cl; nil before it was let in.
func of(cl *mqtt.Client) *conn { return cl.Net.Conn.(*link).conn.Load() }

// known is the gateway of that user name and password; false is a stranger.
// Without gateways everybody is let in, and is none.
func (b *Broker) known(user, password []byte) (*Gateway, bool) {
	if len(b.gateways) == 0 {
		return nil, true
	}
	g, ok := b.gateways[string(user)]
	// Compared even for unknown names, so that the time taken tells nothing.
	same := subtle.ConstantTimeCompare(password, []byte(g.Password)) == 1
	if !ok || !same {
		return nil, false
	}
	return &g, true
}
