package collector

import (
	"context"
	"crypto/x509"
	"log/slog"
	"time"

	"lentic/collector/wire"
)

// SubscriptionOptions say which broker to listen to, and for what.
type SubscriptionOptions struct {
	URL                string // mqtt, mqtts, ws or wss, with host and port
	Username, Password string
	CA                 *x509.CertPool // nil: the system's
	ClientID           string         // fixed, so that the broker keeps what comes while we are away
	Topics             []string       // filters, as of wire.Registry.Filters
	Offer              func(ctx context.Context, m wire.Message, done func())
	OnState            func(connected bool) // nil: nobody wants to know
	Now                func() time.Time     // nil: time.Now
	Log                *slog.Logger         // nil: silent
}

// Subscription takes messages from a broker that is not ours.
type Subscription struct{ opt SubscriptionOptions }

// NewSubscription checks the options. Nothing moves before Run.
func NewSubscription(o SubscriptionOptions) (*Subscription, error) { return &Subscription{o}, nil }

// Run stays connected until ctx ends.
func (s *Subscription) Run(ctx context.Context) error { return nil }
