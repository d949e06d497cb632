package main

import (
	"fmt"
	"slices"
	"time"

	"lentic/alert"
	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
)

const (
	warmUp  = detect.Memory   // what a watch is shown again after a start
	gateway = "gw1"           // of the site
	health  = minute          // how often it tells of itself
	ahead   = 2 * time.Minute // a declared visit is declared so long before
	stays   = 10 * time.Minute
)

// livedIn is how many days a tank has lived when its fault begins: what is learned
// within a week is known.
const livedIn = 12

// split is when every fault's day begins.
var split = midnight.Add(livedIn * day)

// base is one tank that has lived until then under one view, and what was learned of it.
type base struct {
	seed    uint64
	view    view
	config  aquarium.Tank
	site    aquarium.Site
	trunk   *sim.Tank // as it was warmUp before split
	journal []aquarium.Entry
	learned []*detect.Learned
}

func newBase(seed uint64, v view) *base {
	visits := []sim.Visit{
		{Kind: sim.Service, At: midnight.Add(2*day + 10*hour), Lasts: 90 * minute, Declared: true},
		{Kind: sim.Quick, At: midnight.Add(7*day + 15*hour), Lasts: 30 * minute, Declared: true},
	}
	b := &base{seed: seed, view: v, config: full()}
	visits = slices.DeleteFunc(visits, func(x sim.Visit) bool { return x.At >= split })
	b.site, b.journal = v.site(b.config), declared(b.config, visits)
	b.trunk = sim.New(b.config, site.ID, site.Timezone, sim.Options{Seed: seed, Start: midnight, Life: true, Visits: visits, Steps: v.steps,
		Faults: []sim.Planned{ // both filters are cleaned at the service
			{Fault: sim.FilterCleaned, Equipment: "a", At: visits[0].At.Add(30 * minute)},
			{Fault: sim.FilterCleaned, Equipment: "b", At: visits[0].At.Add(35 * minute)},
		}})
	return b
}

// live lets the tank live up to warmUp before split, without anybody looking.
func (b *base) live() { b.trunk.Advance(split.Add(-warmUp)) }

// learn is live with the judgement looking on, up to split.
func (b *base) learn() {
	start := b.trunk
	b.trunk = start.With()
	b.live()
	f := feed{tank: start, view: b.view, site: b.site, phase: phase(b.seed), after: after(b.seed)}
	b.learned = alert.Resume(b.site, nil, f.samples(midnight, split), b.journal, midnight.Add(-aquarium.Step), split, func(aquarium.Transition) {})
}

// site is the tank's site as the view has it.
func (v view) site(tank aquarium.Tank) aquarium.Site {
	s := site
	s.Tanks = []aquarium.Tank{v.seen(tank)}
	return s
}

// declared is the journal of the visits that were declared.
func declared(tank aquarium.Tank, visits []sim.Visit) (es []aquarium.Entry) {
	for i, v := range visits {
		if v.Declared {
			es = append(es, aquarium.Entry{ID: fmt.Sprint("visit-", i), Kind: aquarium.Visit, Site: site.ID, Tank: tank.ID,
				At: v.At.Add(-ahead), Until: v.Until().Add(stays)})
		}
	}
	return es
}

// feed is a tank's readings as samples.
type feed struct {
	tank *sim.Tank
	view view
	site aquarium.Site
	// phase is how long after the whole minute a reading a minute comes.
	phase time.Duration
	// after is how long after a step of the tank it comes, so that the tick after that
	// looks at it.
	after time.Duration
	// wrong is from when on the gateway's clock is a day late: its records
	// are set aside, which is all that is heard of it.
	wrong aquarium.Instant
}

// phase of a seed's readings: a whole number of steps, another for each seed.
func phase(seed uint64) time.Duration { return time.Duration(seed%6) * aquarium.Step }

// after of a seed's readings: only each tenth seed's come with the tick itself.
func after(seed uint64) time.Duration { return time.Duration(seed*3%10) * time.Second }

// samples are those of from <= At <= to, made as they are asked for.
func (f *feed) samples(from, to aquarium.Instant) func(func(aquarium.Sample) bool) {
	tank := &f.site.Tanks[0]
	meaning := map[aquarium.SensorID]*measure.Deriver{}
	for _, s := range tank.Sensors {
		meaning[s.ID] = measure.For(aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: s.ID}, s)
	}
	own := func(item string, at aquarium.Instant, v float64) aquarium.Sample {
		return aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor(gateway, item)}, At: at, Value: v}
	}
	return func(yield func(aquarium.Sample) bool) {
		if !yield(own(aquarium.GatewayPresent, from.Ceil(aquarium.Step), 1)) {
			return
		}
		var rs []aquarium.Reading
		for at := from.Ceil(aquarium.Step); at <= to; at = at.Add(aquarium.Step) {
			f.tank.Advance(at)
			beat := at.Add(-f.phase)
			if beat != beat.Floor(f.view.every) {
				continue
			}
			if f.wrong != 0 && at >= f.wrong {
				if beat == beat.Floor(health) && !yield(own(aquarium.GatewayClock, at, -86400)) {
					return
				}
				continue
			}
			rs = f.tank.AppendReadings(rs[:0])
			if len(rs) > 0 && beat == beat.Floor(health) {
				mains := 0.0
				if f.tank.Mains() {
					mains = 1
				}
				if !yield(own(aquarium.GatewayMains, at, mains)) {
					return
				}
			}
			for _, r := range rs {
				m := meaning[r.Sensor.Sensor]
				if m == nil {
					continue
				}
				x, ok := m.Sample(r)
				x.At = x.At.Add(f.after)
				if ok && !yield(x) {
					return
				}
			}
		}
	}
}
