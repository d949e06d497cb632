package web

import (
	"context"
	"io/fs"
	"log/slog"
	"net/url"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
	"lentic/store/ledger"
)

// Options are what a Server is made of. Readings, Desk, Intake and Ledger are
// needed; every other zero value has a meaning.
type Options struct {
	// Address to listen at; empty: 127.0.0.1:8420. A port of 0 takes a free
	// one. An address others can reach needs PublicURL and an account.
	Address string
	// PublicURL is the only Host and Origin answered, as
	// "https://watch.example.net"; empty: loopback hosts only.
	PublicURL string

	Sites  []aquarium.Site
	People []aquarium.Person // for names

	Readings Readings
	Desk     Desk
	Intake   Intake
	Ledger   ledger.Ledger // accounts and sessions
	Feed     *Feed         // nil: one of its own, which nobody fills

	// Before screens stored readings of a tank once more, which the desk no
	// longer remembers: the spells of its sensors in from <= At < to, and
	// perhaps some around it. It may be asked by many at once. Nil: nothing
	// is told of then.
	Before func(ctx context.Context, k aquarium.TankKey, from, to aquarium.Instant) (map[aquarium.SensorID][]screen.Spell, error)
	// Blind tells what cannot be judged at a tank, and why, in words; nil:
	// nothing is said.
	Blind func(aquarium.Site, aquarium.Tank) []string
	// Health lists why readings cannot be taken in, stored or judged now;
	// empty or nil: they can.
	Health func() []string
	// Learning reports whether the stored weeks of a site are still being
	// learned, and nothing is told of it but what needs none to know; nil: of
	// none are they.
	Learning func(aquarium.SiteID) bool
	// Metrics is the daemon's own health; nil: only the readings are shown.
	Metrics prometheus.Gatherer
	// UI is a folder with templates/ and dist/ to be read anew for each
	// page; nil: what is embedded. For work on the pages only.
	UI fs.FS

	Speed float64 // how much faster than life the clock runs; 0: as life
	Now   func() time.Time
	Log   *slog.Logger // nil: silent
}

const defaultAddress = "127.0.0.1:8420"

func (o Options) withDefaults() Options {
	if o.Address == "" {
		o.Address = defaultAddress
	}
	if o.Feed == nil {
		o.Feed = NewFeed()
	}
	if o.Blind == nil {
		o.Blind = func(aquarium.Site, aquarium.Tank) []string { return nil }
	}
	if o.Health == nil {
		o.Health = func() []string { return nil }
	}
	if o.Learning == nil {
		o.Learning = func(aquarium.SiteID) bool { return false }
	}
	if o.Metrics == nil {
		o.Metrics = prometheus.NewRegistry()
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

// parsePublic reads a public URL: scheme and host, nothing behind them.
func parsePublic(s string) (*url.URL, error) {
	if s == "" {
		return nil, nil
	}
	u, err := url.Parse(s)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" ||
		u.User != nil || u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "" {
		return nil, &badPublicURL{s}
	}
	u.Path = ""
	return u, nil
}

type badPublicURL struct{ url string }

func (e *badPublicURL) Error() string {
	return "public_url " + `"` + e.url + `"` + ": want scheme and host only, as https://watch.example.net"
}
