package store

import (
	"math"
	"math/bits"
	"time"

	"lentic/collector/aquarium"
)

// stretch is the length of time that a block covers. At a reading each ten
// seconds it has 4320 of each sensor: enough that what a column says of itself
// weighs little beside its readings, and few enough to decode for a day's
// chart. Twice it is a day.
const stretch = 12 * time.Hour

// Groups end their stretches one after another, or all of them would be sealed
// at once and half the log be free pages. Stretches begin on whole slots, and
// so no row of ten minutes lies in two of them.
const (
	slot  = 10 * time.Minute
	slots = uint64(stretch / slot)
)

// phase is how much later than the epoch's multiples a group's stretches
// begin. The numbers of the groups read backwards spread it evenly however
// many they are (van der Corput's sequence).
func phase(group uint32) time.Duration {
	return time.Duration(uint64(bits.Reverse32(group-1))*slots>>32) * slot
}

// stretchOf is where the group's stretch that has the instant begins.
func stretchOf(group uint32, at aquarium.Instant) aquarium.Instant {
	p := phase(group)
	return at.Add(-p).Floor(stretch).Add(p)
}

const (
	forever = aquarium.Instant(math.MaxInt64)
	never   = aquarium.Instant(math.MinInt64)
)
