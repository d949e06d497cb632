package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

const (
	wholeSweeps = "0m:6.66 20m:6.53 90m:6.66 110m:6.53 180m:6.66 200m:6.53 270m:6.66 "
	shortSweeps = "0m:6.66 20m:6.565 70m:6.66 90m:6.565 140m:6.66 160m:6.565 210m:6.66 220m:6.565 270m:6.66 "
)

// sweepStories are of tanks of whose valve no switch tells: a pH that turns before its
// controller can have shut the valve gets no gas, and need not come out of its band first.
var sweepStories = []scenario{
	{
		name: "the pH turns in the midst of its band", paths: map[string]string{"ph": wholeSweeps + "285m:6.565 345m:6.655"}, lasts: 340 * m,
		gone: []aquarium.SensorID{"valve"}, change: dosedBy(0, 1000),
		want: []want{{event: raisedNow, cause: aquarium.CO2NotDosing, equipment: "co2", after: 315 * m, by: 335 * m}},
	},
	{
		name: "its controller has it turn there each time", paths: map[string]string{"ph": shortSweeps + "285m:6.565 335m:6.65"}, lasts: 335 * m,
		gone: []aquarium.SensorID{"valve"}, change: dosedBy(0, 1000),
	},
	{
		name: "the pH turns under its band", paths: map[string]string{"ph": wholeSweeps + "288m:6.54 345m:6.65"}, lasts: 345 * m,
		gone: []aquarium.SensorID{"valve"}, change: dosedBy(0, 1000),
	},
	{
		// By 0.2 an hour, where it usually is 0.4: half as much of its gas is still under way.
		name:  "the pH comes down more slowly than usually, and turns as it comes to the edge",
		paths: map[string]string{"ph": "0m:6.66 20m:6.54 90m:6.66 110m:6.54 180m:6.66 200m:6.54 270m:6.66 300m:6.551 360m:6.65"}, lasts: 360 * m,
		gone: []aquarium.SensorID{"valve"}, change: dosedBy(0, 1000),
	},
	{
		name:  "the filters rest for a while, and the pH turns and goes on down after it",
		paths: map[string]string{"ph": wholeSweeps + "285m:6.565 300m:6.6 315m:6.54 345m:6.59"}, lasts: 345 * m,
		gone: []aquarium.SensorID{"valve"}, change: dosedBy(0, 1000),
	},
	{
		name: "the pH comes down slowly and rises as slowly, for gas just comes to what plants take", paths: map[string]string{"ph": wholeSweeps + "400m:6.58 440m:6.62"}, lasts: 440 * m,
		gone: []aquarium.SensorID{"valve"}, change: dosedBy(0, 1000),
	},
}

// TestErrsInSweep: the mean of three minutes errs by what is reckoned from how far a pH goes
// up and down from one reading to the next.
func TestErrsInSweep(t *testing.T) {
	const n, deviation = 60000, 0.01
	draw := rand.New(rand.NewPCG(1, 2))
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = deviation * draw.NormFloat64()
	}
	rough := 0.0
	for i := range xs[2:] {
		rough += math.Abs(xs[i]-2*xs[i+1]+xs[i+2]) / (n - 2)
	}
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		k := int(sweepOver / every)
		sum := 0.0
		for i := 0; i+k <= n; i += k {
			of := 0.0
			for _, x := range xs[i : i+k] {
				of += x / float64(k)
			}
			sum += of * of
		}
		x := tank{}
		x.doubt.rough = rough
		got, want := x.errsInSweep(every), math.Sqrt(sum/float64(n/k))
		if math.Abs(got/want-1) > 0.02 {
			t.Errorf("every %s: the mean errs by %.4f, reckoned %.4f", every, want, got)
		}
	}
}
