package page

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestTold: the strip of a tank on rounds is the one its alarm rests on, while
// the alarm needs the keeper; else it is that of pH.
func TestTold(t *testing.T) {
	s := stage{zone: time.UTC, now: aquarium.At(time.Date(2031, 3, 4, 2, 26, 0, 0, time.UTC))}
	alarm := func(sensor aquarium.SensorID, p aquarium.Priority, state aquarium.State) Alarm {
		return Alarm{Alarm: aquarium.Alarm{Priority: p, State: state, Since: s.now.Add(-time.Hour), Active: true, Evidence: aquarium.Evidence{Sensor: sensor}}}
	}
	for _, c := range []struct {
		name string
		as   []Alarm
		want aquarium.SensorID
	}{
		{"nothing stands", nil, "ph"},
		{"a level runs away", []Alarm{alarm("level", aquarium.High, aquarium.Unacknowledged)}, "level"},
		{"the worse of two", []Alarm{alarm("flow-b", aquarium.Medium, aquarium.Unacknowledged), alarm("level", aquarium.High, aquarium.Unacknowledged)}, "level"},
		{"a filter of two, on the strip of both", []Alarm{alarm("flow-b", aquarium.Medium, aquarium.Unacknowledged)}, "flow-a"},
		{"for the next visit only", []Alarm{alarm("water", aquarium.Low, aquarium.Unacknowledged)}, "ph"},
		{"no sensor of the tank", []Alarm{alarm("", aquarium.High, aquarium.Unacknowledged)}, "ph"},
	} {
		v := s.tank("atrium", c.as)
		st, ok := v.Told()
		if !ok || st.Lines[0].Sensor != c.want {
			t.Errorf("%s: got the strip of %s, want that of %s", c.name, st.Lines[0].Sensor, c.want)
		}
	}
	if _, ok := (&TankView{Tank: &aquarium.Tank{}}).Told(); ok {
		t.Error("a tank of no sensors has a strip")
	}
}
