package detect

import (
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestUntold: what is told has no reason not to be; of what is not it says whether the
// readings come to it, for how long they have, and what else goes on at the tank.
func TestUntold(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 6 * h}
	s.paths["flow-a"] = pathAt(0, 0, 800) + pathAt(0, 5*60, 800) + pathAt(0, 5*60+1, 0)
	stalled := []aquarium.Cause{aquarium.FilterStalled}
	for _, c := range []struct {
		name   string
		lasts  time.Duration
		causes []aquarium.Cause
		visit  bool
		want   string // of one of the reasons; "": none
	}{
		{"before it stops", 4 * h, stalled, false, "the readings do not come to it"},
		{"within its delay", 5*h + 2*time.Minute, stalled, false, "not for long enough"},
		{"once it is told", 5*h + 10*time.Minute, stalled, false, ""},
		{"in a visit", 5*h + 10*time.Minute, stalled, true, "a visit is declared"},
		{"of another cause", 5*h + 10*time.Minute, []aquarium.Cause{aquarium.TopOffRunaway}, false, "the readings do not come to it"},
		{"a sensor that says no more", 7 * h, []aquarium.Cause{aquarium.CO2NotDosing}, false, "ph is silent for 1h"},
	} {
		w := New(site)
		if c.visit {
			w.Note(aquarium.Entry{ID: "v", Kind: aquarium.Visit, At: zero.Add(5*h - 10*time.Minute), Until: zero.Add(7 * h), Tank: site.Tanks[0].ID, Site: site.ID})
		}
		s.play(w, s.samples(t, site), 0, c.lasts)
		got := w.Untold(site.Tanks[0].ID, c.causes)
		if c.want == "" && len(got) != 0 || c.want != "" && !slices.ContainsFunc(got, func(x string) bool { return strings.Contains(x, c.want) }) {
			t.Errorf("%s: %q, want %q among them", c.name, got, c.want)
		}
	}
	if got := New(site).Untold("elsewhere", stalled); len(got) != 1 {
		t.Errorf("a tank that is not watched: %q", got)
	}
}
