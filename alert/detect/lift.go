package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// With the valve shut for long, a rise of liftLeast within liftOver minutes is more than
// twice as quick as gas leaves: hands, or a probe that comes out of the water. If it is
// then, within liftLasts, lower than before, it was no calibration. Strong plants take that
// much out in the light, and give it back as their lamp goes out, but they do so for hours:
// what it rose by in the minutes before is allowed for. Common practice, no source.
const (
	liftLeast = 0.05
	liftOver  = 3 // minutes
	liftLasts = 45 * time.Minute
	liftUnder = 0.03
)

// lift follows a quick rise while gas is shut.
func (d *doubt) lift(at aquarium.Instant, v float64, visited bool, gas gasIs) {
	if visited || gas != gasShut || at.Sub(d.lifted) > liftLasts {
		d.lifted = 0
	}
	if d.lifted != 0 || visited || gas != gasShut || d.since != 0 || d.n <= liftOver {
		return
	}
	if low := slices.Min(d.last[:liftOver+1]); min(v, d.last[0])-low >= liftLeast+d.noise()+d.rises() {
		d.lifted, d.bottom = at, low
	}
}

// sinks reports whether it is lower now than before it rose so quickly.
func (d *doubt) sinks(v float64) bool {
	return d.lifted != 0 && max(v, d.last[0]) <= d.bottom-liftUnder-d.noise()
}

// rises is by how much the pH would rise on within liftOver as it did before that.
func (d *doubt) rises() float64 {
	const before = riseOver - 1 - liftOver
	if d.n < riseOver {
		return 0
	}
	return max(0, d.last[liftOver]-d.last[riseOver-1]) * liftOver / before
}
