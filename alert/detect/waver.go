package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Two readings a minute apart may err alike: air warms between a sensor and the water,
// a swell goes to and fro, a float sticks, a membrane wanders for hours. Then a mean of
// many readings is not known as well as their number says, and a climb or a fall may be
// nothing but that. What such errors come to depends on how long a mean is of, and is
// measured so, as Allan's variance of a clock is: the mean of ten minutes at rest is held
// against the line through those before and after it, which evaporation and a leak do not
// bend, ten minutes' worth and forty minutes' worth apart, and the median of many tells
// what they waver by over so long. It is given as the noise that independent readings
// would need for it. The scaled median is any textbook's.
//
// Until enough of them are known, what a reading keeps of the one before tells, as of a
// series of first order (any textbook's): the mean square of second differences is 3 - phi
// times that of first ones, and the variance of a long mean is (1+phi)/(1-phi) times what
// it would be of independent readings.
const (
	waverKept  = 120 // twenty hours of them: less than Memory, so that a start changes nothing
	waverKnown = 12
	// Times the readings' own noise: less may be chance, of which a median of n has three
	// standard errors in so much over sqrt(n).
	waverLeast, waverChance = 1.1, 3.0
	waverApart              = 1.652            // the median of |a - 2b + c|, in standard deviations: sqrt(6) * 0.6745
	waverFar                = 4                // means apart, of the long ones
	waverNear               = 2                // ... of the short ones
	waverLong               = 12 * time.Minute // what is fitted over more wavers by the long ones
	// A sensor that smooths its readings keeps more of each than it wavers by: no more
	// than that is believed, and two standard errors of it less.
	waverStays = 0.8
	waverDoubt = 2.0
	// ... but where noise alone is as much as a leak lets a level fall by in minutes its first
	// hours are not taken to keep less than they may: two standard errors more.
	waverRough = 1.0 // mm
	// Before anything is known they may keep as much: (1+phi)/(1-phi) is nine.
	waverFirst = 3.0
)

// waver follows what ten-minute means of a level differ by from each other.
type waver struct {
	at          aquarium.Instant // the newest mean
	means       [2 * waverFar]float64
	row         int // how many followed each other so far
	short, long apart
}

// apart is by how much means so far from each other bend.
type apart struct {
	bends [waverKept]float64
	n     int
	noise float64 // of one reading, if all were independent, mm; 0: not known
	grain float64 // by how much that may differ for one step of one reading, in steps
}

// take adds the mean of n readings at rest.
func (w *waver) take(at aquarium.Instant, mean float64, n int) {
	if at.Sub(w.at) != blockLong {
		w.row = 0
	}
	if w.row >= 2*waverNear {
		w.short.take(mean-2*w.means[waverNear-1]+w.means[2*waverNear-1], n)
	}
	if w.row >= 2*waverFar {
		w.long.take(mean-2*w.means[waverFar-1]+w.means[2*waverFar-1], n)
	}
	copy(w.means[1:], w.means[:])
	w.at, w.means[0], w.row = at, mean, w.row+1
}

func (a *apart) take(bend float64, n int) {
	root := math.Sqrt(float64(n)) / waverApart
	a.grain = 1 / waverApart / math.Sqrt(float64(n))
	a.bends[a.n%waverKept] = math.Abs(bend) * root
	if a.n++; a.n >= waverKnown {
		all := a.bends
		kept := all[:min(a.n, waverKept)]
		a.noise = nth(kept, len(kept)/2)
	}
}

// beyond is that noise where it is surely more than that of single readings, which come in
// such steps; the means of a coarse level waver by its steps.
func (a *apart) beyond(noise, step float64) float64 {
	chance := waverLeast + waverChance/math.Sqrt(float64(max(1, min(a.n, waverKept))))
	if a.noise-a.grain*step < noise*chance {
		return 0
	}
	return a.noise
}

// times is how many times the noise of a reading counts in what is fitted over ten minutes
// and more, as far as that is known.
func (w *waver) times(noise, step float64) float64 {
	if noise <= 0 || step >= swingStep {
		return 1
	}
	return max(1, w.short.beyond(noise, step)/noise)
}

// errs is the noise, mm, that a level's readings would need if they were independent for
// what is fitted over so long to err as it does.
func (t *tank) errs(over time.Duration) float64 {
	if t.level == nil {
		return 0
	}
	x, noise, step := &t.vessel.waver, t.level.wave.noise(), t.vessel.step
	switch {
	case step >= swingStep:
		return noise
	case x.short.noise == 0:
		doubt := waverDoubt
		if noise >= waverRough {
			doubt = -waverDoubt
		}
		return noise * t.level.wave.inflation(doubt)
	}
	errs := noise * x.times(noise, step)
	if errs == noise && noise >= waverRough { // by chance less than surely more, of readings that do keep something of each other
		errs = max(noise, min(x.short.noise, noise*t.level.wave.inflation(waverDoubt)))
	}
	if over <= waverLong {
		return errs
	}
	if long := x.long.beyond(noise, step); long > errs { // and what grows with time grows on
		return 2*long - errs
	}
	return errs
}
