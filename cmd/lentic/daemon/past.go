package daemon

import (
	"context"
	"slices"
	"sync"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// What the watch remembers of readings that did not count is about a day. For
// charts of the time before, what is stored is screened again, as an export does,
// so that a corrected configuration or a new calibration mends the past. That reads
// a fortnight of the tank to know its sensors, and so each day is kept once it is
// known.

const pastDay = 24 * time.Hour

// pastDays bounds what is kept, in days of tanks: a month of each of thirty. A day
// without spells is some bytes.
const pastDays = 1000

// past is which readings of days that are over did not count. It may be used by
// many at once.
type past struct {
	s *services
	// turn holds one: who has it may use all below, and screens. So one tank is
	// screened at a time, and whoever waits finds the day there.
	turn chan struct{}
	of   *config.Config // by which the days were screened
	days map[tankDay]map[aquarium.SensorID][]screen.Spell
	old  []tankDay // of days, the oldest work first

	mu    sync.Mutex                            // guards stale, and is held for moments only
	stale map[aquarium.TankKey]aquarium.Instant // from when on days are to be dropped
}

type tankDay struct {
	tank aquarium.TankKey
	day  aquarium.Instant // of UTC, its beginning
}

func newPast(s *services) *past {
	return &past{s: s, turn: make(chan struct{}, 1), days: map[tankDay]map[aquarium.SensorID][]screen.Spell{}, stale: map[aquarium.TankKey]aquarium.Instant{}}
}

// spells are those of a tank's sensors in from <= At < to, and of what else lies
// within those days of UTC. aquarium.ErrUnknownTank; ctx may end it.
func (p *past) spells(ctx context.Context, k aquarium.TankKey, from, to aquarium.Instant) (map[aquarium.SensorID][]screen.Spell, error) {
	select {
	case p.turn <- struct{}{}:
		defer func() { <-p.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	p.drop()
	from = from.Floor(pastDay)
	if err := p.know(ctx, k, from, to); err != nil {
		return nil, err
	}
	all := map[aquarium.SensorID][]screen.Spell{}
	for d := from; d < to; d = d.Add(pastDay) {
		for id, xs := range p.days[tankDay{k, d}] {
			all[id] = append(all[id], xs...)
		}
	}
	return all, nil
}

// know screens those of the days that are not known, in one go from the first to
// the last of them.
func (p *past) know(ctx context.Context, k aquarium.TankKey, from, to aquarium.Instant) error {
	var missing []aquarium.Instant
	for d := from; d < to; d = d.Add(pastDay) {
		if _, ok := p.days[tankDay{k, d}]; !ok {
			missing = append(missing, d)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	sensors, err := p.s.series(ExportArgs{Site: k.Site, Tank: k.Tank})
	if err != nil {
		return err
	}
	first, end := missing[0], missing[len(missing)-1].Add(pastDay)
	found := map[aquarium.Instant]map[aquarium.SensorID]*screen.Spells{}
	err = p.s.screen(ctx, k, sensors, first, end, func(v aquarium.Sample) bool {
		d := v.At.Floor(pastDay)
		of := found[d]
		if of == nil {
			of = map[aquarium.SensorID]*screen.Spells{}
			found[d] = of
		}
		x := of[v.Sensor.Sensor]
		if x == nil {
			x = &screen.Spells{}
			of[v.Sensor.Sensor] = x
		}
		x.Take(v.At, v.Quality)
		return true
	})
	if err != nil {
		return err
	}
	for _, d := range missing {
		p.keep(tankDay{k, d}, found[d])
	}
	if now := aquarium.At(p.s.now()); end > now { // more of it is to come
		p.forget(k, now.Floor(pastDay))
	}
	return nil
}

// keep keeps a day, and lets those go that were worked out longest ago.
func (p *past) keep(d tankDay, of map[aquarium.SensorID]*screen.Spells) {
	known := map[aquarium.SensorID][]screen.Spell{}
	for id, x := range of {
		if l := x.List(); len(l) > 0 {
			known[id] = l
		}
	}
	p.days[d] = known
	if p.old = append(p.old, d); len(p.old) > pastDays {
		delete(p.days, p.old[0])
		p.old = slices.Delete(p.old, 0, 1)
	}
}

// forget has those days of a tank dropped that a reading or a calibration of that
// time bears on: its own, and those that are known by what led up to them. It waits
// for nobody: what is being screened meanwhile is dropped too.
func (p *past) forget(k aquarium.TankKey, at aquarium.Instant) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if old, ok := p.stale[k]; ok {
		at = min(at, old)
	}
	p.stale[k] = at
}

// everyTank stands for all of them.
var everyTank aquarium.TankKey

// drop drops what has become stale, and everything by another configuration.
func (p *past) drop() {
	p.mu.Lock()
	stale := p.stale
	p.stale = map[aquarium.TankKey]aquarium.Instant{}
	p.mu.Unlock()
	cfg := p.s.cfg.Load()
	other := cfg != p.of
	p.of = cfg
	p.old = slices.DeleteFunc(p.old, func(d tankDay) bool {
		at, gone := stale[d.tank]
		gone = gone && d.day.Add(pastDay) > at
		if _, all := stale[everyTank]; gone || all || other {
			delete(p.days, d)
			return true
		}
		return false
	})
}
