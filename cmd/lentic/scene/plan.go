package scene

import (
	"fmt"
	"time"

	"lentic/alert"
	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
)

// misfortune is what goes wrong at one tank of the scene.
type misfortune struct {
	tank  aquarium.TankKey
	cause aquarium.Cause // what it is to be noticed as
	after time.Duration  // ... so long after the page opens
	// begins is how long before that it is first tried to begin; the plan
	// moves it until it is noticed in time.
	begins time.Duration
	faults func(at aquarium.Instant) []sim.Planned
}

var misfortunes = []misfortune{
	{
		tank: aquarium.TankKey{Site: "quillmere-library", Tank: "atrium"}, cause: aquarium.CO2Overshoot,
		after: 35 * time.Second, begins: 25 * time.Minute,
		faults: func(at aquarium.Instant) []sim.Planned {
			return []sim.Planned{{Fault: sim.CO2CommandedOpen, At: at, Strength: 2}}
		},
	}, {
		tank: aquarium.TankKey{Site: "hotel-sarnbrook", Tank: "lobby"}, cause: aquarium.TopOffRunaway,
		after: 60 * time.Second, begins: 8 * time.Minute,
		faults: func(at aquarium.Instant) []sim.Planned {
			return []sim.Planned{{Fault: sim.TopOffRunaway, At: at}}
		},
	}, {
		tank: aquarium.TankKey{Site: "velloway-physio", Tank: "room-2"}, cause: aquarium.FilterStalled,
		after: 85 * time.Second, begins: 16 * time.Minute,
		faults: func(at aquarium.Instant) []sim.Planned {
			return []sim.Planned{{Fault: sim.FilterStallAfterPowerCut, At: at, Until: at.Add(11 * time.Minute), Equipment: "canister"}}
		},
	},
}

// plan is what goes wrong at a tank. When it begins is found by trying: the
// tank is simulated and judged, and the beginning moved by what the alarm came
// too early or too late. So the delays of the causes stay what they are for
// everybody.
func (s *Scene) plan(site aquarium.Site, tank aquarium.Tank, seed uint64) ([]sim.Planned, error) {
	for _, m := range misfortunes {
		if m.tank != (aquarium.TankKey{Site: site.ID, Tank: tank.ID}) {
			continue
		}
		return s.begin(m, site, tank, seed)
	}
	return nil, nil
}

// begin finds when the misfortune has to begin for its alarm to come when it is
// wanted, or at least within two minutes. Each try moves it by what the alarm
// came too early or too late; a valve's swings can make that miss for ever, and
// then every beginning nearby is tried.
func (s *Scene) begin(m misfortune, site aquarium.Site, tank aquarium.Tank, seed uint64) ([]sim.Planned, error) {
	want, soonest, latest := s.opened.Add(m.after), s.opened.Add(15*time.Second), s.opened.Add(105*time.Second)
	at, best, off := s.opened.Add(-m.begins), aquarium.Instant(0), time.Hour
	for n := 0; n < 4 && off > Every; n++ {
		raised, err := s.try(site, tank, seed, m.cause, m.faults(at))
		if err != nil {
			return nil, err
		}
		if d := raised.Sub(want).Abs(); d < off && raised >= soonest && raised <= latest {
			best, off = at, d
		}
		at = at.Add(want.Sub(raised))
	}
	for step := Every; best == 0 && step <= 15*time.Minute; step += Every {
		for _, at := range []aquarium.Instant{at.Add(-step), at.Add(step)} {
			raised, err := s.try(site, tank, seed, m.cause, m.faults(at))
			if err == nil && raised >= soonest && raised <= latest {
				best = at
			}
		}
	}
	if best == 0 {
		return nil, fmt.Errorf("%s at %s could not be made to be noticed within two minutes", m.cause, m.tank)
	}
	return m.faults(best), nil
}

// try lives through the last hours with those faults, and a while longer, and
// returns when the cause was raised.
func (s *Scene) try(site aquarium.Site, tank aquarium.Tank, seed uint64, cause aquarium.Cause, faults []sim.Planned) (aquarium.Instant, error) {
	from, to := s.opened.Add(-2*time.Hour), s.opened.Add(time.Hour)
	t, err := newTank(site, tank, seed, s.opened.Add(-Past), faults)
	if err != nil {
		return 0, err
	}
	site.Tanks = []aquarium.Tank{tank}
	meaning := map[aquarium.SensorID]*measure.Deriver{}
	for _, c := range tank.Sensors {
		meaning[c.ID] = measure.For(aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: c.ID}, c)
	}
	samples := func(yield func(aquarium.Sample) bool) {
		var rs []aquarium.Reading
		for at := from.Add(-detect.Memory).Ceil(Grid); at <= to; at = s.next(at) {
			t.Advance(at)
			rs = t.AppendReadings(rs[:0])
			for _, r := range rs {
				if v, ok := meaning[r.Sensor.Sensor].Sample(r); ok && !yield(v) {
					return
				}
			}
		}
	}
	var raised aquarium.Instant
	alert.Replay(site, samples, nil, from, to, func(tr aquarium.Transition) {
		if tr.Event == aquarium.Raised && tr.Identity.Cause == cause && raised == 0 {
			raised = tr.At
		}
	})
	if raised == 0 {
		return 0, fmt.Errorf("%s at %s/%s is not noticed within %s", cause, site.ID, tank.ID, to.Sub(s.opened))
	}
	return raised, nil
}

func newTank(site aquarium.Site, tank aquarium.Tank, seed uint64, start aquarium.Instant, faults []sim.Planned) (*sim.Tank, error) {
	for _, f := range faults {
		if err := f.Check(tank); err != nil {
			return nil, err
		}
	}
	return sim.New(tank, site.ID, site.Timezone, sim.Options{Seed: seed, Start: start, Faults: faults}), nil
}
