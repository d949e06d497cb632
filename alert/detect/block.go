package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// A block's mean is taken of sixty readings at ten seconds, of ten at a minute, so
// that noise of half a millimetre becomes a tenth or two.
const (
	blockLong = 10 * time.Minute
	// blockErrors make sure that the level was really as low, or as high: of a
	// day's hundred blocks the lowest is so by 2.5 of them by chance.
	blockErrors = 3.0
)

// block is the mean of ten minutes at rest, of which a day's lowest and highest are
// kept.
type block struct {
	at   aquarium.Instant
	line line
	ill  bool // it was not at rest throughout
	left bool // people have left it above its band
}

func (b *block) take(p point, resting bool, x *vessel, noise float64) {
	if at := p.at.Floor(blockLong); at != b.at {
		b.close(x, noise)
		*b = block{at: at}
	}
	b.ill, b.left = b.ill || !resting, b.left || x.left.known
	b.line.take(p)
}

// close notes a block that was at rest, and full enough to be believed, in its day. Ten
// readings that happen to be the same know the level no better than others do.
func (b *block) close(x *vessel, noise float64) {
	if b.ill || b.line.n < 5 || b.line.to.Sub(b.line.from) < blockLong/2 {
		return
	}
	m, e := b.line.mean(), blockErrors*b.line.error()
	x.hung.take(b.at, m, max(e, blockErrors*noise/math.Sqrt(float64(b.line.n))))
	x.waver.take(b.at, m, b.line.n)
	if d, ok := x.dayOf(b.at); ok {
		d.lowest = min(d.lowest, m+e)
		if !b.left {
			d.uppermost = max(d.uppermost, m-e)
		}
	}
}
