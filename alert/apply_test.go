package alert

import (
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// happens brings transitions in as a tick would.
func (w *world) happens(ts ...aquarium.Transition) {
	w.t.Helper()
	w.desk.mu.Lock()
	err := w.desk.update(func(c *change) error {
		for _, t := range ts {
			c.apply(t, c.now)
		}
		return nil
	})
	w.desk.mu.Unlock()
	if err != nil {
		w.t.Fatal(err)
	}
	w.pass(time.Second)
}

func (w *world) event(e aquarium.Event, c aquarium.Cause, p aquarium.Priority) aquarium.Transition {
	return aquarium.Transition{
		At: w.at(), Event: e, Priority: p, Since: w.at(),
		Identity: aquarium.Identity{Site: library, Tank: atrium, Cause: c, Equipment: "co2"},
		Evidence: aquarium.Evidence{Sensor: "ph", Value: 5.98, Unit: "pH"},
	}
}

func TestRenamed(t *testing.T) {
	cases := []struct {
		name     string
		from, to aquarium.Cause
		texts    int
	}{
		{"a worse name is told", aquarium.PHFalling, aquarium.CO2ValveStuck, 2},
		{"a better name is not", aquarium.CO2Overshoot, aquarium.PHLow, 1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			inWorld(t, func(w *world) {
				w.up()
				w.happens(w.event(aquarium.Raised, c.from, aquarium.High))
				id := w.one().ID
				x := w.event(aquarium.Renamed, c.to, aquarium.High)
				x.From = c.from
				w.happens(x)
				if a := w.one(); a.ID != id || a.Cause != c.to {
					t.Errorf("got %s %s, want %s %s", a.ID, a.Cause, id, c.to)
				}
				w.wantTexts("keeper", c.texts)
				w.happens(w.event(aquarium.Returned, c.to, aquarium.High))
				w.wantTexts("keeper", c.texts+1)
				if as, _ := w.desk.Alarms(Filter{}); len(as) != 1 {
					t.Errorf("one crash made %d alarms", len(as))
				}
			})
		})
	}
}

func TestWorsened(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.happens(w.event(aquarium.Raised, aquarium.PHHigh, aquarium.Medium))
		w.wantTexts("keeper", 1)
		w.happens(w.event(aquarium.Worsened, aquarium.PHHigh, aquarium.Medium))
		w.wantTexts("keeper", 2)
		if _, err := w.desk.Acknowledge(w.one().ID, "keeper", ""); err != nil {
			t.Fatal(err)
		}
		w.happens(w.event(aquarium.Worsened, aquarium.PHHigh, aquarium.High))
		if a := w.one(); a.State != aquarium.Unacknowledged || a.Priority != aquarium.High || a.AcknowledgedAt != 0 {
			t.Errorf("re-alarm: got %s %s", a.State, a.Priority)
		}
		w.wantTexts("keeper", 3)
		w.pass(11 * time.Minute)
		w.wantTexts("deputy", 1) // now by the high ladder
	})
}

func TestShelvedAsLess(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.happens(w.event(aquarium.Raised, aquarium.PHHigh, aquarium.Medium))
		if _, err := w.desk.Shelve(w.one().ID, w.at().Add(time.Hour), "keeper", "known"); err != nil {
			t.Fatal(err)
		}
		w.happens(w.event(aquarium.Worsened, aquarium.PHHigh, aquarium.Medium))
		w.wantTexts("keeper", 1)
		w.happens(w.event(aquarium.Worsened, aquarium.PHHigh, aquarium.High))
		w.wantTexts("keeper", 2)
		if a := w.one(); a.State != aquarium.Unacknowledged {
			t.Errorf("got %s", a.State)
		}
	})
}

func TestSuppressed(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		x := w.event(aquarium.Suppressed, aquarium.CO2NotDosing, aquarium.Medium)
		x.Parent = aquarium.PowerLost
		w.happens(x)
		if a := w.one(); a.State != aquarium.StateSuppressed || a.Parent != aquarium.PowerLost {
			t.Errorf("got %s, parent %q", a.State, a.Parent)
		}
		w.wantTexts("keeper", 0)
		w.happens(w.event(aquarium.Raised, aquarium.CO2NotDosing, aquarium.Medium))
		if a := w.one(); a.State != aquarium.Unacknowledged || a.Parent != "" {
			t.Errorf("without its parent: got %s, parent %q", a.State, a.Parent)
		}
		w.wantTexts("keeper", 1)
		// A second one, gone while its parent stands, was never told.
		y := w.event(aquarium.Suppressed, aquarium.LightsNotOn, aquarium.Medium)
		y.Identity.Equipment = "lights"
		w.happens(y)
		y.Event = aquarium.Returned
		w.happens(y)
		w.one()
		w.wantTexts("keeper", 1)
	})
}

func TestAlarmsWorstFirst(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		low := w.event(aquarium.Raised, aquarium.PHProbeDrift, aquarium.Low)
		medium := w.event(aquarium.Raised, aquarium.PHHigh, aquarium.Medium)
		high := w.event(aquarium.Raised, aquarium.FloorWet, aquarium.High)
		over := w.event(aquarium.Raised, aquarium.TemperatureHigh, aquarium.High)
		w.happens(low, high, medium, over)
		over.Event = aquarium.Returned
		w.happens(over)
		as, err := w.desk.Alarms(Filter{Standing: true})
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, a := range as {
			got = append(got, string(a.Cause))
		}
		if want := "floor-wet ph-high ph-probe-drift temperature-high"; strings.Join(got, " ") != want {
			t.Errorf("got %v, want %s", got, want)
		}
	})
}
