package detect_test

import (
	"flag"
	"fmt"
	"slices"
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
)

// gasCauses are those of the gas and of the probes.
var gasCauses = []aquarium.Cause{
	aquarium.CO2Overshoot, aquarium.CO2ValveStuck, aquarium.CO2NotDosing, aquarium.PHFalling, aquarium.PHLow, aquarium.PHHigh, aquarium.PHProbeDrift,
	aquarium.SensorImplausible, aquarium.SensorStuck, aquarium.UnitSuspect, aquarium.RoomCO2High,
}

// furnished is a tank with everything the gas and the probes can be known by.
func furnished() aquarium.Tank {
	t := tank()
	sensor := func(id string, q aquarium.Quantity) aquarium.Sensor {
		return aquarium.Sensor{ID: aquarium.SensorID(id), Quantity: q}
	}
	t.Sensors = append(t.Sensors, sensor("waste", aquarium.Level), sensor("waste-pump", aquarium.Switch), sensor("light", aquarium.Switch), sensor("air", aquarium.Temperature),
		sensor("moist", aquarium.Humidity), sensor("gas", aquarium.Gas), sensor("cylinder", aquarium.Mass), sensor("salts", aquarium.Conductivity))
	e := &t.Equipment
	co2 := *e.CO2
	co2.Cylinder = &aquarium.Cylinder{Mass: "cylinder", TareKG: 7}
	e.CO2 = &co2
	e.Drain = &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380, Pump: "waste-pump"}
	e.Lights = &aquarium.LightsSwitch{Switch: "light"}
	e.Room = &aquarium.Room{Temperature: "air", Humidity: "moist", CO2: "gas"}
	return t
}

// life is a tank that people live with, and what is to be seen of it.
type life struct {
	seen, inside aquarium.Tank
	seed         uint64
	every, lasts time.Duration
	visits       []sim.Visit
	faults       []sim.Planned
}

// play lets it live under a watch.
func (l life) play() []aquarium.Transition {
	site := place(l.seen)
	t := sim.New(l.inside, site.ID, site.Timezone, sim.Options{Seed: l.seed, Start: start, Faults: l.faults, Life: true, Visits: l.visits})
	meaning := map[aquarium.SensorID]*measure.Deriver{}
	for _, c := range l.seen.Sensors {
		meaning[c.ID] = measure.For(aquarium.SensorKey{Site: site.ID, Tank: l.seen.ID, Sensor: c.ID}, c)
	}
	w := detect.New(site)
	for i, x := range l.visits {
		if x.Declared {
			w.Note(aquarium.Entry{ID: fmt.Sprint(i), Kind: aquarium.Visit, Site: site.ID, Tank: l.seen.ID, At: x.At, Until: x.Until()})
		}
	}
	var ts []aquarium.Transition
	var rs []aquarium.Reading
	for tick := start; tick <= start.Add(l.lasts); tick = tick.Add(aquarium.Step) {
		if tick.Sub(start)%l.every == 0 {
			t.Advance(tick)
			rs = t.AppendReadings(rs[:0])
			for _, r := range rs {
				if m := meaning[r.Sensor.Sensor]; m != nil {
					if x, ok := m.Sample(r); ok {
						w.Observe(x)
					}
				}
			}
		}
		ts = append(ts, w.Tick(tick)...)
	}
	return ts
}

// visits are a service each fortnight and somebody for a moment each week, by
// day.
func visits(lasts time.Duration) (vs []sim.Visit) {
	for at := 6*24*time.Hour + 10*time.Hour; at < lasts; at += 7 * 24 * time.Hour {
		v := sim.Visit{Kind: sim.Quick, At: start.Add(at), Lasts: 30 * time.Minute, Declared: true}
		if len(vs)%2 == 1 {
			v.Kind, v.Lasts = sim.Service, 2*time.Hour
		}
		vs = append(vs, v)
	}
	return vs
}

var months = flag.Int("months", 1, "how many healthy tank-months TestHealthyLife lives through")

// TestHealthyLife: people live with the tank and visit it, and nobody is told
// anything of its gas and its probes.
func TestHealthyLife(t *testing.T) {
	for seed := range uint64(*months) {
		inside := furnished()
		if seed%3 == 1 {
			inside.Equipment.Filters[1].Stops = nil
		}
		l := life{seen: inside, inside: inside, seed: seed + 100, every: time.Minute, lasts: 30 * 24 * time.Hour}
		if seed%2 == 1 {
			l.seen = blinded(inside)
			l.seen.Equipment.Lights = nil
		}
		l.visits = visits(l.lasts)
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			var told []aquarium.Transition
			for _, x := range l.play() {
				if slices.Contains(gasCauses, x.Identity.Cause) && x.Event == aquarium.Raised {
					told = append(told, x)
				}
			}
			if len(told) > 0 {
				t.Errorf("raised%s", say(told))
			}
		})
	}
}
