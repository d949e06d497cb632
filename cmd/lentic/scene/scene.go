// Package scene is the demo's world: three invented places with simulated
// tanks, the fortnight behind them, what is about to go wrong at three of them,
// the gateways that publish over real MQTT, and a text provider on loopback.
// lentic itself runs beside it exactly as it would for a keeper.
package scene

import (
	"bytes"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"text/template"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

//go:embed scene.yaml
var source string

// Past is how much of the tanks' life is in the store when the page opens, a
// reading each Grid, and in its last Recent as often as the gateways report:
// what is about to go wrong begins there.
const (
	Past   = 14 * 24 * time.Hour
	Grid   = time.Minute
	Recent = time.Hour
)

// next is when the tanks are read after at.
func (s *Scene) next(at aquarium.Instant) aquarium.Instant {
	if far := at.Add(Grid); far <= s.opened.Add(-Recent) {
		return far
	}
	return at.Add(time.Millisecond).Ceil(Every)
}

// Options of a scene.
type Options struct {
	Data      string    // directory of the database
	Web, MQTT string    // addresses
	Show      io.Writer // where texts appear
	Speed     float64   // 1: as life
	Open      time.Time // when the page opens; zero: now
}

// Scene is the world around one lentic.
type Scene struct {
	Config   *config.Config
	Clock    Clock
	Provider *Provider
	opened   aquarium.Instant
	sites    []site
}

// site is one place and its tanks.
type site struct {
	config aquarium.Site
	tanks  []simulated
}

// simulated is a tank and the pretence behind it.
type simulated struct {
	site   aquarium.SiteID
	config aquarium.Tank
	tank   *sim.Tank
}

// New makes the scene: its configuration is read as any other, and its faults
// are planned so that each is noticed, with its cause's own unshortened delays,
// within the first two minutes.
func New(o Options) (*Scene, error) {
	clock := NewClock(o.Speed)
	provider, err := NewProvider(o.Show, clock.Now)
	if err != nil {
		return nil, err
	}
	src, err := render(o, provider.URL())
	if err != nil {
		return nil, err
	}
	cfg, problems := config.Parse("demo.yaml", src, config.Env{
		Getenv:   func(string) string { return "" },
		ReadFile: func(string) ([]byte, error) { return nil, os.ErrNotExist },
	})
	if err := problems.Err(); err != nil {
		return nil, fmt.Errorf("the demo's own configuration: %w", err)
	}
	if o.Open.IsZero() {
		o.Open = clock.Now()
	}
	s := &Scene{Config: cfg, Clock: clock, Provider: provider, opened: aquarium.At(o.Open)}
	return s, s.people()
}

type room struct {
	N, KH   int
	Target  float64
	Started string
}

func render(o Options, provider string) ([]byte, error) {
	t, err := template.New("scene").Delims("<<", ">>").Parse(source)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = t.Execute(&b, struct {
		Options
		Provider string
		Rooms    []room
	}{o, provider, []room{
		{1, 4, 6.6, "2025-05-19"}, {2, 5, 6.7, "2025-05-26"}, {3, 4, 6.6, "2025-06-02"},
	}})
	return b.Bytes(), err
}

// people builds the tanks, healthy or with what is about to go wrong.
func (s *Scene) people() error {
	for n, st := range s.Config.Sites {
		place := site{config: st}
		seed := func(m int) uint64 { return uint64(1 + 10*n + m) }
		faults := make([][]sim.Planned, len(st.Tanks))
		for m, t := range st.Tanks {
			var err error
			if faults[m], err = s.plan(st, t, seed(m)); err != nil {
				return err
			}
		}
		darken(faults)
		for m, t := range st.Tanks {
			tank, err := newTank(st, t, seed(m), s.opened.Add(-Past), faults[m])
			if err != nil {
				return err
			}
			place.tanks = append(place.tanks, simulated{st.ID, t, tank})
		}
		s.sites = append(s.sites, place)
	}
	return nil
}

// darken lets a power cut at one tank of a site be one at all of them: with
// mains at its neighbours it would be that tank's own.
func darken(faults [][]sim.Planned) {
	for m := range faults {
		for _, f := range faults[m] {
			if f.Fault != sim.FilterStallAfterPowerCut {
				continue
			}
			for o := range faults {
				if o != m {
					faults[o] = append(faults[o], sim.Planned{Fault: sim.PowerCut, At: f.At, Until: f.Until})
				}
			}
		}
	}
}

// Run lets the gateways publish to the broker until ctx ends.
func (s *Scene) Run(ctx context.Context, broker string) error {
	var left sync.WaitGroup
	errs := make([]error, len(s.sites))
	for i, st := range s.sites {
		g := &gateway{site: st.config, tanks: st.tanks, clock: s.Clock, broker: broker}
		left.Add(1)
		go func() { defer left.Done(); errs[i] = g.run(ctx) }()
	}
	left.Wait()
	return errors.Join(errs...)
}
