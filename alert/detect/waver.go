package detect

import (
	"math"

	"lentic/collector/aquarium"
)

// Two readings a minute apart may err alike: air warms between a sensor and the water,
// a swell goes to and fro, a float sticks. Then a mean of many readings is not known
// as well as their number says, and a climb or a fall of ten minutes may be nothing
// but that. So the mean of ten minutes at rest is held against the line through those
// twenty minutes before and after, which evaporation and a leak do not bend, and the
// median of many tells what they waver by. It is given as the noise that independent
// readings would need for it. Common practice, no source; the scaled median is any
// textbook's.
const (
	waverKept  = 120 // twenty hours of them: less than Memory, so that a start changes nothing
	waverKnown = 12
	// Times the readings' own noise: less may be chance, of which a median of n has three
	// standard errors in so much over sqrt(n).
	waverLeast, waverChance = 1.1, 3.0
	waverApart              = 1.652 // the median of |a - 2b + c|, in standard deviations: sqrt(6) * 0.6745
)

// waver follows what ten-minute means of a level differ by from each other.
type waver struct {
	at    aquarium.Instant // the newest mean
	means [4]float64       // it and those before
	row   int              // how many followed each other so far
	apart [waverKept]float64
	n     int
	noise float64 // of one reading, if all were independent, mm; 0: not known
	grain float64 // by how much that may differ for one step of one reading, in steps
}

// take adds the mean of n readings at rest.
func (w *waver) take(at aquarium.Instant, mean float64, n int) {
	if at.Sub(w.at) != blockLong {
		w.row = 0
	}
	if w.row >= 4 {
		w.grain = 1 / waverApart / math.Sqrt(float64(n))
		w.apart[w.n%waverKept] = math.Abs(mean-2*w.means[1]+w.means[3]) / waverApart * math.Sqrt(float64(n))
		if w.n++; w.n >= waverKnown {
			all := w.apart
			kept := all[:min(w.n, waverKept)]
			w.noise = nth(kept, len(kept)/2)
		}
	}
	copy(w.means[1:], w.means[:])
	w.at, w.means[0], w.row = at, mean, w.row+1
}

// times is how many times the noise of a reading counts in what is fitted through
// many that come in such steps: more than once where they err alike. The means of a
// coarse level waver by its steps.
func (w *waver) times(noise, step float64) float64 {
	chance := waverLeast + waverChance/math.Sqrt(float64(max(1, min(w.n, waverKept))))
	if noise <= 0 || step >= swingStep || w.noise-w.grain*step < noise*chance {
		return 1
	}
	return w.noise / noise
}
