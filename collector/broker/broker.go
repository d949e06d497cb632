package broker

import (
	"context"
	"crypto/tls"
	"log/slog"
	"time"

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

// Broker listens for devices.
type Broker struct{ opt Options }

// New checks the options.
func New(o Options) (*Broker, error) { return &Broker{opt: o}, nil }

// Listen opens the address. Run does so itself where it has not been done.
func (b *Broker) Listen() error { return nil }

// Addr is the address listened on, "" before Listen.
func (b *Broker) Addr() string { return b.opt.Address }

// Run serves until ctx ends.
func (b *Broker) Run(ctx context.Context) error { return nil }
