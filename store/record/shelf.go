package record

import (
	"time"

	"lentic/collector/aquarium"
)

// Conflict is a reading that met another value already kept for its sensor and
// time. The first stands; the other is kept here for people to see.
type Conflict struct {
	Stands  aquarium.Reading
	Other   aquarium.Reading
	Arrived aquarium.Instant // of Other
}

// Topic sums up the messages kept for one topic that no sensor has.
type Topic struct {
	Topic    string
	Messages int
	Bytes    int // of the payloads
	Oldest   aquarium.Instant
	Newest   aquarium.Instant
	Last     []byte // the newest payload, to be recognised by
}

// SetAside sums up the records of one gateway that wait for an offset.
type SetAside struct {
	Site    aquarium.SiteID
	Gateway aquarium.GatewayID
	Records int
	// Claimed and Arrived are those of the newest record: their difference
	// is what its clock is off.
	Claimed, Arrived aquarium.Instant
}

// Bounds of what is kept for people to look at. What goes beyond them, the
// oldest first, is dropped.
const (
	UnclaimedFor   = 14 * 24 * time.Hour
	UnclaimedBytes = 64 << 20 // topics and payloads together
	RefusedEach    = 20       // for each reason and source
	RefusedAll     = 1000
	ConflictsAll   = 1000
	// AsideEach bounds what one gateway with a wrong clock can pile up: at
	// twelve readings a minute it is four weeks.
	AsideEach = 500_000
)

// Plausible reports whether a reading may carry that time when it arrives at
// now: not before aquarium.Earliest and not more than aquarium.Ahead later.
func Plausible(at, now aquarium.Instant) bool {
	return at >= aquarium.Earliest && at <= now.Add(aquarium.Ahead)
}
