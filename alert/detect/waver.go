package detect

import (
	"math"
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Two readings a minute apart may err alike: air warms between a sensor and the water,
// a swell goes to and fro, a float sticks, a membrane wanders for hours. Then a mean of
// many readings is not known as well as their number says, and a climb or a fall may be
// nothing but that. What such errors come to depends on how long a mean is of, and is
// measured so, as Allan's variance of a clock is: the mean of ten minutes at rest is held
// against the line through those before and after it, which evaporation and a leak do not
// bend, ten minutes' worth and forty minutes' worth apart, and what many bend by on average
// tells what they waver by over so long, none counted for more than three times their
// median: a top-off that no switch tells of bends some by far. It is given as the noise that
// independent readings would need for it. The mean of normal values so cut is from their
// density.
//
// A day's worth knows that to a tenth or more, by which one look in a million is one in a
// hundred thousand: what the last days have shown is believed until it is surely more.
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
	waverMore               = 1.3              // three times what a day's is off by
	waverMost               = 3.0              // medians, the most that one counts for
	waverApart              = 1.915            // the mean of |a - 2b + c| so cut, in standard deviations: sqrt(6) * 0.782
	waverFar                = 4                // means apart, of the long ones
	waverNear               = 2                // ... of the short ones
	waverLong               = 12 * time.Minute // what is fitted over more wavers by the long ones
	// A sensor that smooths its readings keeps more of each than it wavers by: no more than
	// that is believed, and a standard error of it less. That is about two over sqrt(n), as
	// simulated series of first order show: mean differences know less of what is kept than
	// all pairs would. In its first hours a level that is read often is taken to keep as much
	// as it may, two of them more; one that is not, and whose noise alone is as much as a leak
	// lets it fall by in minutes, one more: from one minute to the next it keeps of a leak's
	// own way too.
	waverStays = 0.8
	waverDoubt = 2.0
	waverRough = 1.0 // mm
	waverOften = 30 * time.Second
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
		a.noise = a.usual()
	}
}

// usual is what they bend by. They are sorted so that the sum does not hang on when the
// watch began.
func (a *apart) usual() float64 {
	all := a.bends
	kept := all[:min(a.n, waverKept)]
	slices.Sort(kept)
	most, sum := waverMost*kept[len(kept)/2], 0.0
	for _, x := range kept {
		sum += min(x, most)
	}
	return sum / float64(len(kept))
}

// now is that noise, or what days have shown it to be, which is known better, unless it is
// surely more.
func (a *apart) now(usual float64) float64 {
	if a.noise > waverMore*usual {
		return a.noise
	}
	return usual
}

// beyond is the same where it is surely more than that of single readings, which come in
// such steps; the means of a coarse level waver by its steps.
func (a *apart) beyond(usual, noise, step float64) float64 {
	n := min(a.n, waverKept)
	if usual > 0 {
		n = waverKept
	}
	mm, chance := a.now(usual), waverLeast+waverChance/math.Sqrt(float64(max(1, n)))
	if mm-a.grain*step < noise*chance {
		return 0
	}
	return mm
}

// times is how many times the noise of a reading counts in what is fitted over ten minutes
// and more, as far as that is known.
func (w *waver) times(noise, step float64) float64 {
	if noise <= 0 || step >= swingStep {
		return 1
	}
	return max(1, w.short.beyond(0, noise, step)/noise)
}

// wavered is what a day has shown of it, mm.
type wavered struct {
	Short float64 `json:"short"`
	Long  float64 `json:"long"`
}

// waveredDays are how many days tell what is usual, of which the middle counts; fewer than
// waveredLeast tell no more than the present one.
const (
	waveredDays  = 7
	waveredLeast = 3
)

// usually is what days have shown, 0 where too few have.
func (t *tank) usually() (short, long float64) {
	if m := &t.shortMemo; !m.holds(t.learned, 0) {
		var shorts, longs []float64
		for _, d := range t.learned.Vessel.Wavers {
			shorts, longs = append(shorts, d.Short), append(longs, d.Long)
		}
		*m, t.longMemo = memo{of: t.learned}, memo{of: t.learned}
		if len(shorts) >= waveredLeast {
			m.v, t.longMemo.v = statistic.Median(shorts), statistic.Median(longs)
		}
	}
	return t.shortMemo.v, t.longMemo.v
}

// bends is what that rests on: each mean is in three of them, so that half as
// many are independent.
func (t *tank) bends() int {
	n := min(t.vessel.waver.short.n, waverKept)
	if n < waverKnown {
		n = 0
	}
	if days := len(t.learned.Vessel.Wavers); days >= waveredLeast {
		n += days * waverKept
	}
	return n / 2
}

// errs is the noise, mm, that a level's readings would need if they were independent for
// what is fitted over so long to err as it does.
func (t *tank) errs(over time.Duration) float64 {
	if t.level == nil {
		return 0
	}
	x, noise, step := &t.vessel.waver, t.level.wave.noise(), t.vessel.step
	short, long := t.usually()
	switch {
	case step >= swingStep:
		return noise
	case x.short.noise == 0 && short == 0:
		doubt := waverDoubt
		switch {
		case t.level.interval() < waverOften:
			doubt = -2 * waverDoubt
		case noise >= waverRough:
			doubt = -waverDoubt
		}
		return noise * t.level.wave.inflation(doubt)
	}
	errs := max(noise, x.short.beyond(short, noise, step))
	if errs == noise && noise >= waverRough { // by chance less than surely more, of readings that do keep something of each other
		errs = max(noise, min(x.short.now(short), noise*t.level.wave.inflation(waverDoubt)))
	}
	if over <= waverLong {
		return errs
	}
	if far := x.long.beyond(long, noise, step); far > errs { // and what grows with time grows on
		return 2*far - errs
	}
	return errs
}
