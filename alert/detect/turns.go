package detect

import (
	"math/bits"
	"time"

	"lentic/collector/aquarium"
)

// Whoever cleans filters stops one, lets it run again, and stops the next. No fuse,
// hose or flow sensor does so: what fails together stops together, and what fails
// alone does not wait for another to be well again. A minute is two readings of one a
// minute, and more than a paddle wheel that jerks. Common practice, no source.
const turnLeast = time.Minute

// turns follows filters that stand one after the other; a filter is a bit.
type turns struct {
	still uint64           // those that stand: once they do, until they run
	alone aquarium.Instant // since when one stands that began while all that had stood ran; 0: none does
	done  uint64           // those that stood alone for long enough, and ran again
}

// follow reports whether a filter stands alone after another one did.
func (x *turns) follow(v *view, t *tank) bool {
	still, runs := t.standing(v)
	if still |= x.still &^ runs; still != x.still {
		if x.long(v.now) {
			x.done |= x.still &^ still
		}
		x.alone = 0
		if still != 0 && still&(still-1) == 0 && still&x.still == 0 {
			x.alone = t.stoodSince(bits.TrailingZeros64(still), v.now)
		}
		x.still = still
	}
	return x.long(v.now) && x.done&runs != 0
}

// long reports whether one filter has stood alone for long enough.
func (x *turns) long(at aquarium.Instant) bool { return x.alone != 0 && at.Sub(x.alone) >= turnLeast }

// standing is which of the filters stand still that nothing is known to have stopped,
// and which run.
func (t *tank) standing(v *view) (still, runs uint64) {
	for i, s := range t.flows {
		switch normal := t.normal(i, v.now); {
		case !s.current(v.now) || normal < leastFlow || stopped(&t.config.Equipment.Filters[i], t.clock, afterStop):
		case s.value() < stallShare*normal:
			still |= 1 << i
		case s.value() >= stallBack*normal:
			runs |= 1 << i
		}
	}
	return still, runs
}

// stoodSince is since when the i-th filter stands still.
func (t *tank) stoodSince(i int, at aquarium.Instant) aquarium.Instant {
	normal := t.normal(i, at)
	since, _ := t.flows[i].run(func(v float64) bool { return v < stallShare*normal })
	return since
}
