package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A block's mean is taken of sixty readings at ten seconds, of ten at a minute, so
// that noise of half a millimetre becomes a tenth or two.
const (
	blockLong = 10 * time.Minute
	// blockErrors make sure that the level was really as low: of a day's hundred
	// blocks the lowest is so by 2.5 of them by chance.
	blockErrors = 3.0
)

// block is the mean of ten minutes at rest, of which a day's lowest is kept.
type block struct {
	at   aquarium.Instant
	line line
	ill  bool // it was not at rest throughout
}

func (b *block) take(p point, resting bool, days *[2]vesselDay) {
	if at := p.at.Floor(blockLong); at != b.at {
		b.close(days)
		*b = block{at: at}
	}
	b.ill = b.ill || !resting
	b.line.take(p)
}

// close notes a block that was at rest, and full enough to be believed, in its day.
func (b *block) close(days *[2]vesselDay) {
	if b.ill || b.line.n < 5 || b.line.to.Sub(b.line.from) < blockLong/2 {
		return
	}
	for i := range days {
		if days[i].at == b.at.Floor(day) {
			days[i].lowest = min(days[i].lowest, b.line.mean()+blockErrors*b.line.error())
		}
	}
}
