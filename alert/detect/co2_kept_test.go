package detect

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// evenings is a pH that is held at 6.6 from eight to five and rises by a tenth an hour
// until midnight, for so many days, and then by that an hour.
func evenings(n int, rises float64) (ph, valve string) {
	for i := range n + 1 {
		rise := 0.1
		if i == n {
			rise = rises
		}
		ph += fmt.Sprintf("%dh:7.3 %dh:6.6 %dh:6.6 %dh:%g ", 24*i+8, 24*i+9, 24*i+17, 24*i+24, 6.6+7*rise)
		valve += fmt.Sprintf("%dh:1 %dh:0 ", 24*i+8, 24*i+17)
	}
	return ph, valve
}

// TestKeptGas: gas that goes on coming as fast as it leaves keeps the pH down, which it
// never is at that hour.
func TestKeptGas(t *testing.T) {
	const known = 5 // days
	evening := known*day + 17*h
	for _, c := range []struct {
		name   string
		rises  float64 // pH an hour
		change func(*aquarium.Tank)
		beside map[string]string
		want   bool
	}{
		{name: "it stays where it was held", rises: 0, want: true},
		{name: "the same, and a clock holds no pH", rises: 0.005, want: true, change: func(x *aquarium.Tank) {
			p := *x.Equipment.CO2
			p.Target, p.Hours = 0, &aquarium.Span{From: 8 * 60, To: 17 * 60}
			x.Equipment.CO2 = &p
		}},
		{name: "gas leaves half as fast", rises: 0.05},
		{name: "no filter turns, which moves the surface", rises: 0, beside: map[string]string{
			"flow-a": fmt.Sprintf("0h:900 %v:900 %v:0", evening, evening+m), "flow-b": fmt.Sprintf("0h:880 %v:880 %v:0", evening, evening+m)}},
		{name: "the tank has no mains", rises: 0, beside: map[string]string{"mains": fmt.Sprintf("0h:1 %v:0", evening)}},
		{name: "the room's air has as much of the gas", rises: 0, beside: map[string]string{
			"gas": fmt.Sprintf("0h:500 %v:500 %v:25000", evening, evening+m)}},
		{name: "the room's air has a little", rises: 0, want: true, beside: map[string]string{
			"gas": fmt.Sprintf("0h:500 %v:500 %v:4000", evening, evening+m)}},
		{name: "the top-off thins the water", rises: 0, beside: map[string]string{
			"topoff": fmt.Sprintf("0h:0 %v:1", evening), "level": fmt.Sprintf("0h:0 %v:0 %v:200", evening, evening+4*h)}},
	} {
		site := library()
		if c.change != nil {
			c.change(&site.Tanks[0])
		}
		s := script{paths: calm(), every: m, noise: 1, lasts: evening + 4*h}
		s.paths["ph"], s.paths["valve"] = evenings(known, c.rises)
		for id, p := range c.beside {
			s.paths[id] = p
		}
		ts := s.run(t, site)
		i := slices.IndexFunc(ts, func(x aquarium.Transition) bool {
			return x.Event == aquarium.Raised && x.Identity.Cause == aquarium.CO2ValveStuck
		})
		if (i >= 0) != c.want {
			t.Errorf("%s:%s\nwant a stuck valve: %v", c.name, brief(ts), c.want)
		} else if c.want && (ts[i].At < zero.Add(evening+2*h) || ts[i].At > zero.Add(evening+4*h)) {
			t.Errorf("%s: told %v after the valve was shut, want once two whole hours have shown it", c.name, ts[i].At.Sub(zero.Add(evening)))
		}
	}
}

// TestCreepsToldOnChange: a pH that tells no more than its changes comes down by a
// twentieth an hour with the valve shut: a hundredth each twelve minutes.
func TestCreepsToldOnChange(t *testing.T) {
	site := library()
	x := site.Tanks[0].Sensor("ph")
	x.OnChange, x.Refresh = true, 15*time.Minute
	ph := "0m:6.55 "
	for i := range 12 {
		ph += fmt.Sprintf("%dm:%g %dm:%g ", 60+12*i, 6.55-0.01*float64(i), 71+12*i, 6.55-0.01*float64(i))
	}
	c := script{paths: calm(), every: m, lasts: 3 * h}
	c.paths["ph"] = ph
	xs, prior := c.samples(t, site), 0.0
	xs = slices.DeleteFunc(xs, func(x aquarium.Sample) bool {
		if x.Sensor.Sensor != "ph" {
			return false
		}
		same := x.Value == prior && x.At.Sub(zero)%(15*m) != 0
		prior = x.Value
		return same
	})
	ts := c.play(New(site), xs, 0, c.lasts)
	if len(ts) == 0 || ts[0].Identity.Cause != aquarium.CO2ValveStuck || ts[0].At > zero.Add(130*m) {
		t.Errorf("want a stuck valve 70 min after it began:%s", brief(ts))
	}
}
