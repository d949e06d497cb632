package detect_test

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
)

// roomed is the tank in a room that is measured. Nothing tells of its lights.
func roomed() aquarium.Tank {
	t := tank()
	t.Sensors = append(t.Sensors, aquarium.Sensor{ID: "air", Quantity: aquarium.Temperature}, aquarium.Sensor{ID: "moist", Quantity: aquarium.Humidity})
	t.Equipment.Room = &aquarium.Room{Temperature: "air", Humidity: "moist"}
	return t
}

// TestUnusual: what no cause has a name for is told within two days, in a tank
// with all of daily life in it; and what has one, or is weather, is not told under
// this one.
func TestUnusual(t *testing.T) {
	const days = 24 * time.Hour
	at := start.Add(12*days + 9*time.Hour)
	tests := []struct {
		name string
		plan []sim.Planned
		want bool
	}{
		{"nothing", nil, false},
		{"lights that nothing tells of stay on", []sim.Planned{{Fault: sim.LightsStuckOn, At: at}}, true},
		{"one of two heating rods is gone, and the room is as ever", []sim.Planned{{Fault: sim.HeaterWeak, Strength: 0.5, At: at}}, true},
		{"the room gets ten degrees warmer", []sim.Planned{{Fault: sim.RoomTemperature, Strength: 10, At: at}}, false},
		{"a heater that fails has a name", []sim.Planned{{Fault: sim.HeaterStuckOff, At: at}}, false},
		{"a filter that stalls has a name", []sim.Planned{{Fault: sim.FilterStall, Equipment: "a", At: at}}, false},
		{"plants are cut", []sim.Planned{{Fault: sim.Trimmed, At: at}}, false},
		{"the electrode is calibrated", []sim.Planned{{Fault: sim.Calibrated, Strength: 0.1, At: at}}, false},
		{"a filter loses three hundredths of its flow a day", []sim.Planned{{Fault: sim.FilterClog, Equipment: "a", Strength: 0.03, At: at}}, false},
		{"a filter is cleaned", []sim.Planned{{Fault: sim.FilterCleaned, Equipment: "a", At: at}}, false},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			o := sim.Options{Seed: 3, Start: start, Life: true, Faults: c.plan}
			got := live(place(roomed()), roomed(), o, time.Minute, 15*days)
			named := map[aquarium.Identity]bool{}
			var told *aquarium.Transition
			for i, x := range got {
				unusual := x.Identity.Cause == aquarium.Unusual
				switch {
				case x.Event == aquarium.Raised && unusual && len(named) > 0:
					t.Errorf("told beside %v", named)
				case x.Event == aquarium.Raised && unusual && told == nil:
					told = &got[i]
				case x.Event == aquarium.Raised && !unusual:
					named[x.Identity] = true
				case x.Event == aquarium.Returned:
					delete(named, x.Identity)
				}
			}
			switch {
			case told == nil && c.want:
				t.Errorf("not told:%s", say(got))
			case told != nil && !c.want:
				t.Errorf("told:%s", say(got))
			case told != nil && (told.At < at || told.At > at.Add(2*days) || told.Priority != aquarium.Low):
				t.Errorf("told %v after it began:%s", told.At.Sub(at), say(got))
			case told != nil && (told.Evidence.Sensor == "" || told.Evidence.Expected == nil || len(told.Evidence.Facts) < 3):
				t.Errorf("evidence %+v", told.Evidence)
			}
		})
	}
}

// TestUnusualQuietOverTheClocks: on the day the clocks are changed lights, feeding
// and people come an hour sooner by all other clocks, and that is no change.
func TestUnusualQuietOverTheClocks(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Skip(err)
	}
	site := place(roomed())
	site.Timezone = london
	o := sim.Options{Seed: 5, Start: aquarium.At(time.Date(2031, 3, 18, 0, 0, 0, 0, time.UTC)), Life: true} // changed on the 30th
	for _, x := range live(site, roomed(), o, time.Minute, 18*24*time.Hour) {
		if x.Identity.Cause == aquarium.Unusual {
			t.Errorf("%v %s %v", x.At, x.Event, x.Evidence)
		}
	}
}

// TestUnusualRestarts: a watch that is handed what was learned, as JSON, warmed up
// and told what stands goes on as the one that never stopped.
func TestUnusualRestarts(t *testing.T) {
	const lasts = 14 * 24 * time.Hour
	at := start.Add(11*24*time.Hour + 9*time.Hour)
	site := place(roomed())
	xs := samples(site, roomed(), sim.Options{Seed: 3, Start: start, Life: true, Faults: []sim.Planned{{Fault: sim.HeaterWeak, Strength: 0.5, At: at}}}, lasts)
	whole := detect.New(site)
	stops := map[time.Duration][]*detect.Learned{}
	var want []aquarium.Transition
	play(whole, xs, 0, lasts, func(d time.Duration, ts []aquarium.Transition) {
		want = append(want, ts...)
		if d > 11*24*time.Hour && d%(5*time.Hour+10*time.Minute) == 0 {
			for _, l := range whole.Learned() {
				stops[d] = append(stops[d], again(t, l))
			}
		}
	})
	if len(want) == 0 || len(stops) < 5 {
		t.Fatalf("%d transitions, %d stops: nothing is shown", len(want), len(stops))
	}
	for stop, ls := range stops {
		w := detect.New(site)
		for _, l := range ls {
			w.Recall(l)
		}
		play(w, xs, stop-detect.Memory, stop, func(time.Duration, []aquarium.Transition) {})
		w.Stand(standing(want, start.Add(stop)))
		var got []aquarium.Transition
		play(w, xs, stop, lasts, func(_ time.Duration, ts []aquarium.Transition) { got = append(got, ts...) })
		var rest []aquarium.Transition
		for _, x := range want {
			if x.At > start.Add(stop) && x.Identity.Cause == aquarium.Unusual {
				rest = append(rest, x)
			}
		}
		got = only(got, aquarium.Unusual)
		if !reflect.DeepEqual(got, rest) {
			t.Errorf("stopped at %v:%s\nwant%s", stop, say(got), say(rest))
		}
	}
}

func only(ts []aquarium.Transition, c aquarium.Cause) (out []aquarium.Transition) {
	for _, x := range ts {
		if x.Identity.Cause == c {
			out = append(out, x)
		}
	}
	return out
}

func again(t *testing.T, l *detect.Learned) *detect.Learned {
	t.Helper()
	b, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	read := new(detect.Learned)
	if err := json.Unmarshal(b, read); err != nil {
		t.Fatal(err)
	}
	return read
}

// standing are the alarms that stand at t, as a ledger keeps them.
func standing(ts []aquarium.Transition, at aquarium.Instant) (as []aquarium.Alarm) {
	open := map[aquarium.Identity]aquarium.Transition{}
	for _, x := range ts {
		switch {
		case x.At > at:
		case x.Event == aquarium.Returned:
			delete(open, x.Identity)
		case x.Event == aquarium.Raised:
			open[x.Identity] = x
		}
	}
	for id, x := range open {
		as = append(as, aquarium.Alarm{Identity: id, Active: true, State: aquarium.Unacknowledged, Priority: x.Priority, Evidence: x.Evidence, Since: x.Since})
	}
	return as
}

// samples are what a pretend tank says, once a minute.
func samples(site aquarium.Site, inside aquarium.Tank, o sim.Options, lasts time.Duration) (xs []aquarium.Sample) {
	tank := sim.New(inside, site.ID, site.Timezone, o)
	meaning := map[aquarium.SensorID]*measure.Deriver{}
	for _, c := range site.Tanks[0].Sensors {
		meaning[c.ID] = measure.For(aquarium.SensorKey{Site: site.ID, Tank: site.Tanks[0].ID, Sensor: c.ID}, c)
	}
	var rs []aquarium.Reading
	for at := o.Start; at <= o.Start.Add(lasts); at = at.Add(time.Minute) {
		tank.Advance(at)
		rs = tank.AppendReadings(rs[:0])
		for _, r := range rs {
			if m := meaning[r.Sensor.Sensor]; m != nil {
				if x, ok := m.Sample(r); ok {
					xs = append(xs, x)
				}
			}
		}
	}
	return xs
}

// play hands a watch the samples after from and no later than to, and tells what
// each tick says.
func play(w *detect.Watch, xs []aquarium.Sample, from, to time.Duration, hear func(time.Duration, []aquarium.Transition)) {
	for d := from + aquarium.Step; d <= to; d += aquarium.Step {
		tick := start.Add(d)
		for len(xs) > 0 && xs[0].At <= tick {
			if xs[0].At > start.Add(from) {
				w.Observe(xs[0])
			}
			xs = xs[1:]
		}
		hear(d, w.Tick(tick))
	}
}
