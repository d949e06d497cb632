package detect

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// household is a script of so many days of a tank that evaporates half a millimetre
// an hour, is topped off, is changed each morning at six and whose store is filled
// each third day.
func household(days int) (aquarium.Site, script) {
	site := library()
	withStores(&site.Tanks[0])
	site.Tanks[0].Equipment.WaterChange.At = []aquarium.WeekTime{{Daily: true, At: 6 * 60}}
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: time.Duration(days) * 24 * h}
	level, pump, out, in, store, refill := "0m:-3", "0m:0", "0m:0", "0m:0", "0m:190", "0m:0"
	for d := range days {
		at := func(minutes float64) string { return fmt.Sprintf("%.0fs", 60*(float64(d)*1440+minutes)) }
		level += fmt.Sprintf(" %s:-4 %s:4 %s:2 %s:-64 %s:-64 %s:2", at(120), at(125), at(360), at(375), at(376), at(391))
		level += fmt.Sprintf(" %s:-4 %s:4 %s:-3", at(1080), at(1085), at(1440))
		pump += fmt.Sprintf(" %s:1 %s:0 %s:1 %s:0", at(120), at(125), at(1080), at(1085))
		out += fmt.Sprintf(" %s:1 %s:0", at(360), at(375))
		in += fmt.Sprintf(" %s:1 %s:0", at(376), at(391))
		if d%3 == 1 {
			store += fmt.Sprintf(" %s:144 %s:144 %s:180", at(600), at(630), at(660))
			refill += fmt.Sprintf(" %s:1 %s:0", at(630), at(660))
		}
	}
	for id, p := range map[string]string{"level": level, "topoff": pump, "out": out, "in": in, "store": store, "refill": refill} {
		s.paths[id] = p
	}
	return site, s
}

// TestLearnsTheHousehold: what evaporates, what comes in, and how fast a change
// comes back; and nothing of all that is an alarm.
func TestLearnsTheHousehold(t *testing.T) {
	site, s := household(6)
	w := New(site)
	for _, x := range s.play(w, s.samples(t, site), 0, s.lasts) {
		if x.Identity.Cause != aquarium.SensorStuck { // a script's store has no noise
			t.Errorf("raised%s", brief([]aquarium.Transition{x}))
		}
	}
	x := w.Learned()[0].Vessel
	if len(x.Evaporation) != 5 || len(x.Lowest) != 5 || len(x.Refills) != 2 || len(x.Fills) != 5 {
		t.Fatalf("%+v", x)
	}
	for i, e := range x.Evaporation {
		if e.LitresH < 0.3 || e.LitresH > 0.75 { // 0.43 to 1.18 mm an hour by the path
			t.Errorf("day %d: %.2f l/h evaporate", i, e.LitresH)
		}
	}
	for _, r := range x.Refills {
		if math.Abs(r.LitresH-72) > 3 || math.Abs(r.From-144) > 1 { // 36 l in half an hour
			t.Errorf("filled by %.1f l/h from %.1f l", r.LitresH, r.From)
		}
	}
	for _, f := range x.Fills {
		if f < 200 || f > 320 { // 66 mm in a quarter of an hour
			t.Errorf("a change came back by %.0f mm/h", f)
		}
	}
}

// TestHouseholdSurvives: a watch that is handed what was learned, as JSON, and
// warmed up over Memory has learned what one that never stopped has.
func TestHouseholdSurvives(t *testing.T) {
	site, s := household(5)
	xs := s.samples(t, site)
	whole := New(site)
	s.play(whole, xs, 0, s.lasts)
	for stop := 26 * h; stop <= 4*24*h; stop += 5*h + 10*m {
		w := New(site)
		s.play(w, xs, 0, stop)
		w = again(t, site, s, xs, w.Learned(), stop)
		s.play(w, xs, stop, s.lasts)
		if got, want := w.Learned()[0].Vessel, whole.Learned()[0].Vessel; !reflect.DeepEqual(got, want) {
			g, _ := json.Marshal(got)
			x, _ := json.Marshal(want)
			t.Fatalf("stopped at %v:\ngot  %s\nwant %s", stop, g, x)
		}
	}
}
