package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// BenchmarkTank is a tank of twelve sensors every ten seconds: one operation is
// one reading, ticks included. A tank-year is 38 million.
func BenchmarkTank(b *testing.B) {
	site := library()
	t := &site.Tanks[0]
	for _, id := range []aquarium.SensorID{"store", "waste"} {
		t.Sensors = append(t.Sensors, aquarium.Sensor{ID: id, Quantity: aquarium.Volume})
	}
	s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 6 * h}
	s.paths["store"], s.paths["waste"] = "0m:100", "0m:100"
	s.paths["ph"] = "0m:7.2 60m:6.6 70m:6.54 100m:6.66 120m:6.54 150m:6.66 170m:6.54 200m:6.66 300m:7.2"
	s.paths["valve"] = "0m:1 65m:0 95m:1 115m:0 145m:1 165m:0 195m:0"
	s.paths["level"] = "0m:-3.7 60m:-4 65m:4 360m:3"
	s.paths["topoff"] = "0m:0 60m:1 65m:0"
	xs := s.samples(b, site)
	w := New(site)
	b.ReportAllocs()
	b.ResetTimer()
	var shift aquarium.Instant
	i := 0
	for n := 0; n < b.N; {
		tick := xs[i].At + shift
		for ; i < len(xs) && xs[i].At+shift == tick; i++ {
			x := xs[i]
			x.At += shift
			w.Observe(x)
			n++
		}
		w.Tick(tick)
		if i == len(xs) {
			i, shift = 0, shift.Add(s.lasts+10*time.Second)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)*37.8e6/1e9, "s/tank-year")
}
