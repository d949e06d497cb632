package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestUnderWay: how far a pH may fall after its valve has shut, by how late it is known
// to turn and how fast it fell; and for half an hour after a pause of 12 minutes by
// what gathered meanwhile as well.
func TestUnderWay(t *testing.T) {
	const now = aquarium.Instant(100 * time.Hour / time.Millisecond)
	ago := func(d time.Duration) aquarium.Instant { return now.Add(-d) }
	for _, c := range []struct {
		name   string
		days   []float64 // minutes late
		rate   float64   // pH an hour
		paused time.Duration
		want   float64
	}{
		{"nothing is known", nil, 0.3, 0, 0},
		{"a diffuser: 2 min late at 0.3 an hour", []float64{2, 2, 2, 2}, 0.3, 0, 0.03},
		{"a reactor: 10 min late at 0.2 an hour", []float64{10, 10, 10, 10}, 0.2, 0, 0.065},
		{"the same 15 min after a pause", []float64{10, 10, 10, 10}, 0.2, 15 * m, 0.065 + 2*0.225*0.2},
		{"the same 40 min after it", []float64{10, 10, 10, 10}, 0.2, 40 * m, 0.065},
		{"a new tank 15 min after a pause", nil, 0.4, 15 * m, 0.05 + 2*0.4*0.2},
	} {
		tank := newTank("", &aquarium.Tank{Equipment: aquarium.Equipment{CO2: &aquarium.CO2{}}})
		tank.learned = &Learned{Lateness: Lateness{Days: c.days}}
		tank.shutAt = ago(13 * m)
		tank.turning.done, tank.turning.rate = tank.shutAt, c.rate
		if c.paused != 0 {
			tank.pauses.past[0], tank.pauses.n = Pause{ago(c.paused + 12*m), ago(c.paused)}, 1
		}
		if got := tank.underWay(&view{now: now}, 0); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.3f, want %.3f", c.name, got, c.want)
		}
	}
}
