package alert

import (
	"context"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/alert/rota"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// Setup is the part of a desk that a new configuration replaces.
type Setup struct {
	Sites   []aquarium.Site
	People  []aquarium.Person
	CallOut aquarium.CallOut
	Senders map[aquarium.ChannelID]Sender
	// PublicURL is where people reach the pages; empty: texts carry no link.
	PublicURL string
}

// Sender is one channel a message can leave by. It may be used by several
// goroutines at once.
type Sender interface {
	// Address is where the channel would reach that person: a phone number
	// or a mail address; empty when it cannot.
	Address(p aquarium.Person) string
	// Send hands the message over before ctx ends. receipt is the
	// provider's own answer. An error means that it was refused, or that
	// nobody knows; it never quotes a secret.
	Send(ctx context.Context, m rota.Outgoing) (receipt string, err error)
}

// History is the stored readings the desk judges again from.
type History interface {
	// Window calls fn with from <= At < to, oldest first, until it returns
	// false; none is not an error.
	Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error
	// Sensors lists every sensor that has readings.
	Sensors() []aquarium.SensorKey
}

// Options is what a desk is built from. History and Ledger are required.
type Options struct {
	Setup
	History History
	Ledger  ledger.Ledger
	// Now is the clock, time.Now when nil. After waits on the same clock,
	// time.After when nil: a clock that runs faster needs both.
	Now   func() time.Time
	After func(time.Duration) <-chan time.Time
	// Log is silent when nil.
	Log *slog.Logger
	// Metrics shows the desk's Stats; nil: nobody asks.
	Metrics prometheus.Registerer
	// OnTransition is called after each change of an alarm is on disk. It
	// must not block and must not call the desk.
	OnTransition func(aquarium.Alarm)
	// Timeout is what one attempt to send may take; 15 s when zero, so that
	// two channels fit well into the minute a refused text is given.
	Timeout time.Duration

	watch func(aquarium.Site) watch // in tests; detect.New otherwise
}

func (o *Options) defaults() {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.After == nil {
		o.After = time.After
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Timeout == 0 {
		o.Timeout = 15 * time.Second
	}
	if o.OnTransition == nil {
		o.OnTransition = func(aquarium.Alarm) {}
	}
	if o.watch == nil {
		o.watch = newWatch
	}
}
