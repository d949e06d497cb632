package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// TestWaverOfTheFirstHalfHour: of a level read each ten seconds that keeps four fifths of
// each reading's error, long means err as if readings had three times their noise (any
// textbook's series of first order). Half an hour knows that roughly: not once in two
// hundred times is it taken for less than half.
func TestWaverOfTheFirstHalfHour(t *testing.T) {
	const phi, sigma, tries = 0.8, 0.6, 400
	few := 0
	for seed := range uint64(tries) {
		site, rng := library(), rand.New(rand.NewPCG(seed, 8))
		tank := newTank(site.ID, &site.Tanks[0])
		x := 0.0
		for i := range 180 {
			x = phi*x + math.Sqrt(1-phi*phi)*rng.NormFloat64()
			at := zero.Add(time.Duration(i) * 10 * time.Second)
			tank.level.pace.take(at)
			tank.level.wave.take(at, sigma*x, true)
		}
		if tank.errs(waverLong) < 3*sigma/2 {
			few++
		}
	}
	if few > tries/200 {
		t.Errorf("%d times of %d less than half", few, tries)
	}
}
