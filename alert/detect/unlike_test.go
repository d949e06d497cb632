package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func overSoil(t *aquarium.Tank) { t.Substrate = aquarium.Active }

func lowFloat(t *aquarium.Tank) {
	floated(t)
	t.Equipment.TopOff.High = ""
}

// unlikeStories are of installations that differ from the usual one: in how their
// controllers hold, how their parts work together, how their sensors wander.
var unlikeStories = []scenario{
	{
		name: "the inlet of a change and the top-off race to the mark and pass it", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 88m30s:7 240m:6.5", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 88m30s:0", "topoff": "0m:0 62m:1 88m30s:0"},
	},
	{
		name: "the inlet of a change does not stop", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 90m30s:0 120m:130", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 90 * m, by: 97 * m}},
	},
	{
		name: "what a change left reads over and under the band's end", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 90m:5.7 150m:4.2 200m:3.8 440m:5.7", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 90m:0"}, lasts: 8 * h,
	},
	{
		name: "a change of colder water", change: changed,
		paths: map[string]string{"water": "0m:24.5 60m:24.5 75m:24.5 90m:23.55 105m:23.5 115m:23.45 220m:24.2", "heat": "0m:0 80m:1", "level": "0m:0 60m:0 75m:-66 75m30s:-66 90m30s:0", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 90m30s:0"},
	},
	{
		name: "half a change, and the top-off makes it good", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 67m:-25 82m:0 120m:0", "out": "0m:0 60m:1 67m:0", "in": "0m:0", "topoff": "0m:0 66m:1 82m:0"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: incomplete, equipment: "water_change", after: 76 * m, by: 79 * m},
			{event: returnedNow, cause: incomplete, equipment: "water_change", after: 79 * m, by: 100 * m},
		},
	},
	{
		name: "a splash that two seldom readings lie in", gone: []aquarium.SensorID{"topoff"}, every: time.Minute,
		paths: map[string]string{"level": "0m:0 90m10s:0 90m11s:13 92m3s:12 92m4s:0 240m:0"},
	},
	{
		name: "a splash that two seldom readings lie in is no water out and in again", gone: []aquarium.SensorID{"topoff"}, every: time.Minute,
		paths: map[string]string{"level": "0m:-3 89m30s:-3 89m31s:-17 90m30s:-17 90m31s:-12 91m30s:-12 91m31s:-3 240m:-3"},
	},
	{
		name: "the pump brings nothing and the float wavers at its mark", gone: []aquarium.SensorID{"level"}, change: lowFloat,
		paths: map[string]string{"low": "0m:1 60m:0 120m:1 122m:0 150m:1 151m:0 160m:1 163m:0", "topoff": "0m:0 60m:1"},
		want:  []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 65 * m, by: 68 * m}},
	},
	{
		name: "a shut valve leaks so little that the pH creeps down and comes to rest under its target", change: overSoil, lasts: 8 * h,
		paths: map[string]string{"ph": "0m:6.6 30m:6.52 60m:6.55 180m:6.42 300m:6.35 480m:6.34", "valve": "0m:1 30m:0"},
		want:  []want{{event: raisedNow, cause: aquarium.CO2ValveStuck, equipment: "co2", after: 70 * m, by: 110 * m}},
	},
	{
		name: "a broken sensor of temperature says 85 as it does when it starts", paths: map[string]string{"water": "0m:24.5 60m:24.5 60m1s:85"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "water", after: 75 * m, by: 90 * m}},
	},
	{
		name: "water in Fahrenheit", paths: map[string]string{"water": "0m:24.5 60m:24.5 60m1s:76.1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.UnitSuspect, equipment: "water", after: 65 * m, by: 75 * m}},
	},
	{
		name: "a room in Fahrenheit that warms up in the course of the day", change: withRoom, lasts: 6 * h,
		paths: map[string]string{"air": "0m:20 60m:20 60m1s:68 300m:78.8"},
		want:  []want{{event: raisedNow, cause: aquarium.UnitSuspect, equipment: "air", after: 65 * m, by: 75 * m}},
	},
	{
		name: "a room in Fahrenheit, of which every ninth reading is a step higher", change: withRoom, lasts: 5 * h, every: 10 * time.Second,
		paths: map[string]string{"air": steppedNow("0m:21 60m:21 60m1s:69.8", 69.8, 70.16, 61*m, 5*h)},
		want:  []want{{event: raisedNow, cause: aquarium.UnitSuspect, equipment: "air", after: 65 * m, by: 75 * m}},
	},
	{
		name:  "the valve falls silent by night and the morning's dosing begins",
		paths: map[string]string{"ph": "0m:7.3 60m:7.35 180m:6.62", "valve": "0m:0 20m:-"},
		want:  []want{{event: raisedNow, cause: aquarium.SensorSilent, equipment: "valve", after: 28 * m, by: 31 * m}},
	},
	{
		name: "a valve has let in too much, and gas leaves", change: overSoil,
		paths: map[string]string{"ph": "0m:6.6 30m:6.45 150m:6.52 240m:6.62", "valve": "0m:1 30m:0"},
	},
	{
		name: "a slow pump stops where its own float does, which the sensor reads a little high", every: 10 * time.Second,
		change: func(t *aquarium.Tank) {
			top := *t.Equipment.TopOff
			top.RateLH, top.BandMM = 15, 2
			t.Equipment.TopOff = &top
		},
		paths: map[string]string{"level": "0m:-1.5 60m:-1.8 73m:2.7 77m30s:2.9 240m:2.4", "topoff": "0m:0 60m:1 77m30s:0"},
	},
	{
		name:  "filters that stood still together start one after the other",
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 90m:0 90m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 90m40s:0 90m41s:880"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 90 * m, by: 93 * m},
		},
	},
	{
		name: "lights and pumps warm a tank on its first day", gone: []aquarium.SensorID{"heat"}, change: withRoom,
		paths: map[string]string{"air": "0m:22 240m:23", "water": "0m:24.9 240m:25.45"},
	},
	{
		name: "somebody switches all filters off, and the float falls dry where he takes water out", gone: []aquarium.SensorID{"level"}, change: lowFloat,
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 150m:0 150m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 150m:0 150m1s:880",
			"low": "0m:1 63m:0 140m:1", "water": "0m:24.5 116m:24.5 130m:23.65 150m:23.6 190m:23.7 240m:24.2"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10*time.Second},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 150 * m, by: 156 * m},
		},
	},
	{
		name: "the float is still dry when the filters run again", gone: []aquarium.SensorID{"level"}, change: lowFloat,
		paths: map[string]string{"flow-a": "0m:900 60m:900 60m1s:0 150m:0 150m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 150m:0 150m1s:880", "low": "0m:1 63m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10*time.Second},
			{event: aquarium.Suppressed, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 63*m + 10*time.Second},
			{event: aquarium.Suppressed, cause: failed, equipment: "top_off", after: 120 * m, by: 125 * m},
			{event: raisedNow, cause: failed, equipment: "top_off", after: 150 * m, by: 160 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 150 * m, by: 156 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "b", after: 150 * m, by: 156 * m},
		},
	},
	{
		name: "a splash of a minute and a half", every: 10 * time.Second,
		paths: map[string]string{"level": "0m:1 90m:1 90m5s:8 91m30s:12 91m31s:1"},
	},
	{
		name: "a probe reads what it cannot, and an hour later a filter stops", paths: map[string]string{"ph": "0m:6.6 60m:6.6 60m1s:14", "flow-a": "0m:900 123m:900 123m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "ph", after: 75 * m, by: 90 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 123 * m, by: 126*m + 10*time.Second},
		},
	},
	{
		name: "a gateway's clock is wrong, and what it sends of a probe is set aside", remote: map[string]string{"gw1/clock": "60m:-10800 61m:-10800 66m:-10800 71m:-10800 76m:-10800 81m:-10800 86m:-10800"},
		paths: map[string]string{"ph": "0m:6.6 60m:- 90m:6.6"},
		want: []want{
			{event: raisedNow, cause: aquarium.GatewayClockWrong, equipment: "gw1", after: 60*m - 1, by: 60*m + 10*time.Second},
			{event: returnedNow, cause: aquarium.GatewayClockWrong, equipment: "gw1", after: 90 * m, by: 100 * m},
		},
	},
}

// TestCoarseLevelKeepsItsHours: a level that scatters by a millimetre is not cut by
// its noise into stretches that all fall.
func TestCoarseLevelKeepsItsHours(t *testing.T) {
	for _, every := range []time.Duration{20 * time.Second, time.Minute} {
		rng := rand.New(rand.NewPCG(4, 4))
		k := vat{low: -4, high: 4}
		at, told := levels(6, every, 6*24*h, nil, func(d time.Duration) (float64, bool) {
			for range int(every / aquarium.Step) {
				k.step(0.3)
			}
			return k.mm + rng.NormFloat64(), k.pump
		})
		if told {
			t.Errorf("read each %v: 0.3 l/h is told as a loss at %v", every, at)
		}
	}
}

// TestSeldomTopOffIsNoSiphon: no switch tells of a pump that lifts the level by three
// millimetres in three minutes, twice a day, of which a coarse sensor reads each minute.
func TestSeldomTopOffIsNoSiphon(t *testing.T) {
	site := without(library(), "topoff")
	top := site.Tanks[0].Equipment.TopOff
	top.BandMM, top.RateLH = 3, 54
	w := New(site)
	rng := rand.New(rand.NewPCG(8, 15))
	mm, on, told := 0.0, false, 0
	const days = 20
	for d := time.Duration(0); d < days*24*h; d += aquarium.Step {
		mm -= 0.25 / 360
		if mm < -3 {
			on = true
		}
		if on {
			mm += 60.0 / 360
			on = mm < 0
		}
		if d%time.Minute == 0 {
			w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "level"}, At: zero.Add(d), Value: math.Round(mm + 0.8*rng.NormFloat64())})
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.TopOffRunaway {
				told++
				t.Logf("told at %v, level %.1f", d, mm)
			}
		}
	}
	if told > 0 {
		t.Errorf("%d of %d top-offs are told", told, days*2)
	}
}

// TestUnseenRefillRate: no switch tells when a store fills, and its readings scatter
// by most of a litre: what comes in is what the slope says, not the most by chance.
func TestUnseenRefillRate(t *testing.T) {
	site := library()
	unswitch(&site.Tanks[0])
	w := New(site)
	rng := rand.New(rand.NewPCG(2, 3))
	litres, filling := 150.0, false
	for d := time.Duration(0); d < 6*24*h; d += aquarium.Step {
		if litres -= 1.5 / 360; litres < 100 {
			filling = true
		}
		if filling {
			litres += 45.0 / 360
			filling = litres < 178
		}
		if d%time.Minute == 0 {
			w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "store"}, At: zero.Add(d), Value: math.Round(litres + 0.8*rng.NormFloat64())})
		}
		w.Tick(zero.Add(d))
	}
	fills := w.Learned()[0].Vessel.Refills
	if len(fills) < 2 {
		t.Fatalf("%d fillings are known", len(fills))
	}
	for _, f := range fills {
		if math.Abs(f.LitresH-43.5) > 4 {
			t.Errorf("a filling of 43.5 l/h is known as %.1f", f.LitresH)
		}
	}
}

// TestLowerEndWanders: how far under its band a level may be read is what its lowest
// days differ by, where they came down to its end.
func TestLowerEndWanders(t *testing.T) {
	tank := newTank("", &aquarium.Tank{Equipment: aquarium.Equipment{TopOff: &aquarium.TopOff{BandMM: 4}}})
	for _, c := range []struct {
		name   string
		lowest []float64
		want   float64
	}{
		{"nothing is known", nil, -4},
		{"it never comes down to its end", []float64{-3, -2.5, -3.4}, -4},
		{"crisp", []float64{-4.02, -4.05, -3.2, -4.03}, -4.06},
		{"crisp, and once it failed", []float64{-4.02, -9, -3.2, -4.03}, -4.53},
		{"visits", []float64{-4.02, -190, -4.03, -150, -120}, -4.03},
		{"wandering", []float64{-4.3, -4.1, -3.5, -4.4, -3.9}, -4.8},
	} {
		tank.learned = &Learned{Vessel: Vessel{Lowest: c.lowest}}
		if got := tank.lowerEnd(); math.Abs(got-c.want) > 0.011 {
			t.Errorf("%s: %.2f, want %.2f", c.name, got, c.want)
		}
	}
}

// TestCoarseLevelTellsALoss: nor is a litre an hour lost in that noise.
func TestCoarseLevelTellsALoss(t *testing.T) {
	for _, every := range []time.Duration{20 * time.Second, time.Minute} {
		rng := rand.New(rand.NewPCG(4, 9))
		k := vat{low: -4, high: 4}
		const onset = 3 * 24 * h
		at, told := levels(6, every, 4*24*h, nil, func(d time.Duration) (float64, bool) {
			rate := 0.3
			if d > onset {
				rate += 1.1
			}
			for range int(every / aquarium.Step) {
				k.step(rate)
			}
			return k.mm + rng.NormFloat64(), k.pump
		})
		if !told || at < onset || at > onset+12*h {
			t.Errorf("read each %v: 1.1 l/h from %v on are told at %v", every, onset, at)
		}
	}
}

// TestUnseenRefillWaits: a store that no switch tells of, whose readings scatter by
// most of a litre, stays under where its filling has always begun.
func TestUnseenRefillWaits(t *testing.T) {
	site := library()
	unswitch(&site.Tanks[0])
	w := New(site)
	rng := rand.New(rand.NewPCG(2, 4))
	litres, filling, dead := 150.0, false, time.Duration(0)
	const dies = 5 * 24 * h
	for d := time.Duration(0); d < 7*24*h; d += aquarium.Step {
		if litres -= 1.5 / 360; litres < 100 {
			if filling = d < dies; !filling && dead == 0 {
				dead = d
			}
		}
		if filling {
			litres += 45.0 / 360
			filling = litres < 178
		}
		if d%time.Minute == 0 {
			w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "store"}, At: zero.Add(d), Value: math.Round(litres + 0.8*rng.NormFloat64())})
		}
		for _, x := range w.Tick(zero.Add(d)) {
			if x.Event != aquarium.Raised || x.Identity.Cause != aquarium.ReservoirNotRefilling {
				continue
			}
			// 3.6 l under where it begins, and forty minutes
			if dead == 0 || d > dead+6*h {
				t.Errorf("told at %v; it should have filled at %v", d, dead)
			}
			return
		}
	}
	t.Error("never told")
}

// TestSlowFallTellsNoMinutes: where gas brings the pH down by an eighth an hour, the
// resolution of a reading is as long as a late electrode is late.
func TestSlowFallTellsNoMinutes(t *testing.T) {
	for _, c := range []struct {
		name string
		fall string // in the hour before the valve shuts
		days int
	}{{"slow", "6.68", 0}, {"quick", "6.95", 1}} {
		site := library()
		s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 30 * h}
		s.paths["ph"] = "0m:" + c.fall + " 420m:" + c.fall + " 480m:6.55 486m:6.54 600m:6.7"
		s.paths["valve"] = "0m:1 480m:0"
		w := New(site)
		s.play(w, s.samples(t, site), 0, s.lasts)
		if got := len(w.Learned()[0].Lateness.Days); got != c.days {
			t.Errorf("%s: %d days are known, want %d", c.name, got, c.days)
		}
	}
}

// steppedNow is a path that goes on with a value, of which each ninth reading of ten
// seconds is another one.
func steppedNow(path string, most, some float64, from, until time.Duration) string {
	for at := from; at < until; at += 90 * time.Second {
		path += fmt.Sprintf(" %v:%g %v:%g %v:%g %v:%g", at-6*time.Second, most, at-5*time.Second, some, at+4*time.Second, some, at+5*time.Second, most)
	}
	return path
}
