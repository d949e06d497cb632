package detect

import (
	"math"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestEstimateProves: where the estimate passes the tank's bound before the pH
// is far under its target, the estimate, its bound and its trend are the
// evidence, and the pH is told besides; where the pH is what is out, it is the
// evidence. The trend is that of CO2 ~ 10^-pH.
func TestEstimateProves(t *testing.T) {
	for _, c := range []struct {
		name  string
		bound float64
		unit  aquarium.Unit
	}{{"estimate over its bound first", 35, "mg/l"}, {"pH far under its target first", 200, "pH"}} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			site.Tanks[0].Limits.CO2 = c.bound
			s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 3 * h}
			s.paths["ph"], s.paths["valve"] = "0m:6.7 60m:6.7 180m:6.3", "0m:0 50m:1"
			ts := s.run(t, site)
			i := slices.IndexFunc(ts, func(x aquarium.Transition) bool { return x.Event == aquarium.Raised })
			if i < 0 {
				t.Fatal("never raised")
			}
			e := ts[i].Evidence
			if e.Unit != c.unit || e.Limit == nil || e.PerHour == nil {
				t.Fatalf("evidence %+v, want one in %s with its limit and trend", e, c.unit)
			}
			if c.unit == "pH" {
				return
			}
			ph, _ := e.Fact(FactPH)
			if e.Value <= c.bound || *e.Limit != c.bound || ph.Value < 6.4 || ph.Value > 6.6 {
				t.Errorf("evidence %+v, want an estimate over %v and a pH over 6.4", e, c.bound)
			}
			if rate := -*e.PerHour / e.Value / math.Ln10; rate > -0.1 || rate < -0.3 {
				t.Errorf("trend %+.1f mg/l an hour is %+.2f pH an hour, want about -0.2", *e.PerHour, rate)
			}
		})
	}
}

// TestGasTo: gas that comes at 10 mg/l an hour takes two hours from 30 mg/l to 50,
// whatever the pH says of it by a straight line.
func TestGasTo(t *testing.T) {
	for _, c := range []struct{ from, to, perHour, want float64 }{
		{30, 50, 10, 2}, {30, 75, 30, 1.5}, {49, 50, 5, 0.2}, {30, 30, 10, 0}, {40, 30, 10, 0},
	} {
		falls := c.perHour / c.from / math.Ln10 // pH an hour
		if got := gasTo(math.Log10(c.to/c.from), falls); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("from %v to %v at %v: %.3f h, want %v", c.from, c.to, c.perHour, got, c.want)
		}
	}
	if got := gasTo(0.2, 0.01); !math.IsInf(got, 1) {
		t.Errorf("without a trend: %v h", got)
	}
}
