package record

import (
	"math"
	"math/rand/v2"
	"testing"

	"lentic/collector/aquarium"
)

// BenchmarkLog writes a commit of 5000 readings of fifty tanks' sensors as log
// records of the length that the store gives them.
func BenchmarkLog(b *testing.B) {
	units := []aquarium.Unit{"Cel", "pH", "mm", "l/h", "uS/cm", "mg/l"}
	rnd := rand.New(rand.NewPCG(1, 2))
	rs := make([]Logged, 5000)
	for i := range rs {
		places := math.Pow10(i % 3)
		rs[i] = Logged{uint32(i%600 + 1), Point{
			At: aquarium.Instant(1_900_000_000_000 + i/600*10_000 + rnd.IntN(9000)), Unit: units[i%len(units)],
			Value: math.Round((25+rnd.Float64())*places) / places,
		}}
	}
	var w LogWriter
	key := LogKey(1)
	for b.Loop() {
		w.Reset()
		for left := rs; len(left) > 0; {
			_, n := w.Next(key, left, 980)
			left = left[n:]
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(rs)), "ns/reading")
}
