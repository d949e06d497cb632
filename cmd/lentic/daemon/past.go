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
	days map[tankDay]screenedDay
	old  []tankDay // of days, the oldest work first

	mu    sync.Mutex                            // guards stale, and is held for moments only
	stale map[aquarium.TankKey]aquarium.Instant // from when on days are to be dropped
}

type tankDay struct {
	tank aquarium.TankKey
	day  aquarium.Instant // of UTC, its beginning
}

// screenedDay is what was found of a day.
type screenedDay struct {
	spells map[aquarium.SensorID][]screen.Spell
	// again is from when on it is screened once more, for not all that bears on it
	// had come; 0: never.
	again aquarium.Instant
}

func newPast(s *services) *past {
	return &past{s: s, turn: make(chan struct{}, 1), days: map[tankDay]screenedDay{}, stale: map[aquarium.TankKey]aquarium.Instant{}}
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
	defer p.shed()
	from = from.Floor(pastDay)
	if err := p.know(ctx, k, from, to); err != nil {
		return nil, err
	}
	all := map[aquarium.SensorID][]screen.Spell{}
	for d := from; d < to; d = d.Add(pastDay) {
		for id, xs := range p.days[tankDay{k, d}].spells {
			all[id] = append(all[id], xs...)
		}
	}
	return all, nil
}

// know screens those of the days that are not known, in one go from the first to
// the last of them.
func (p *past) know(ctx context.Context, k aquarium.TankKey, from, to aquarium.Instant) error {
	now := aquarium.At(p.s.now())
	var missing []aquarium.Instant
	for d := from; d < to; d = d.Add(pastDay) {
		if x, ok := p.days[tankDay{k, d}]; !ok || x.again != 0 && x.again <= now {
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
		p.keep(tankDay{k, d}, found[d], now)
	}
	return nil
}

// keep keeps a day that was screened at that time.
func (p *past) keep(d tankDay, of map[aquarium.SensorID]*screen.Spells, at aquarium.Instant) {
	known := screenedDay{spells: map[aquarium.SensorID][]screen.Spell{}}
	for id, x := range of {
		if l := x.List(); len(l) > 0 {
			known.spells[id] = l
		}
	}
	switch over := d.day.Add(pastDay); {
	case over > at:
		known.again = at
	case over.Add(lookAhead) > at:
		known.again = over.Add(lookAhead)
	}
	if _, had := p.days[d]; !had {
		p.old = append(p.old, d)
	}
	p.days[d] = known
}

// shed lets the days go that were worked out longest ago, where there are too many:
// only once somebody has what was asked for, for it may be among them.
func (p *past) shed() {
	n := max(0, len(p.old)-pastDays)
	for _, d := range p.old[:n] {
		delete(p.days, d)
	}
	p.old = slices.Delete(p.old, 0, n)
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
