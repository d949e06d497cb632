package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// Where no switch tells of the top-off and the level comes in steps as wide as its
// band, or is read so seldom that only a few readings lie between two runs, a leak that
// the top-off makes good shows neither in how fast the level falls nor in where it falls
// to: it goes down and comes up again, far more often than air takes so much. Two times
// in a row must agree. A level on the edge between two steps goes from one to the other
// by its noise: only more than a step is a swing, and of a fine one what its noise and
// waver hardly make and a step: the middle of a few readings lies on one itself, up to
// half of it from where the water is, when it is up and when it is down.
//
// Sooner than that, how long it stays on one step on its way from the one above to the
// one below says how fast it falls: a whole step in that time. It must have stayed on
// that one and on the one above, which noise does not do, and a hand that takes a bucket
// passes in a moment. Common practice, no source.
const (
	swingStep  = 2.5 // mm: one that comes in such steps is coarse, and shows by them how fast it falls
	swingSteps = 1.5
	swingLeast = 2.0 // mm, of a fine one
	swingNoise = 4.0 // standard deviations
	// ... or of the middles of two minutes: of the thirty of an hour one in five hundred
	// ranges further by chance, and two in a row must.
	swingRange = 6.5
	swingFor   = 2 * time.Minute // of which the middle is what the level is
	stairAbove = 3 * time.Minute // on the step above, at the least
	stairEven  = 6               // ... and such a part of the time on the one that is timed: it falls as fast on either
	stairOn    = 4 * time.Minute // on the step that is timed
	stairSure  = 0.7             // of what that makes is sure: at either end it flickers for a while
	stairHolds = 4               // times as long it holds, unless it shows again
	stairLeast = 30 * time.Minute
)

// swings follows a level down and up.
type swings struct {
	looked    aquarium.Instant // 0: nothing is followed
	low, high float64
	was       float64 // what it was a minute ago
	falling   bool
	// The last times it was down, the newest first, and how far it had come to there.
	at   [2]aquarium.Instant
	fell [2]float64
	stair
}

// stair is a coarse level's way down, step by step.
type stair struct {
	tread
	last tread            // before it
	took time.Duration    // for the last whole step
	told aquarium.Instant // when that was over; 0: never
}

// tread is one step that a level stays on.
type tread struct {
	mm           float64
	came, before aquarium.Instant // to it, and to the one before; 0: not known
	down         bool             // it came from above
}

// take takes what the level is now.
func (x *stair) take(at aquarium.Instant, mm, step float64) {
	fell, stayed := x.mm-mm, at.Sub(x.came)
	switch {
	case x.came == 0:
		x.tread = tread{mm: mm, came: at}
		return
	case math.Abs(fell) < step/2:
		return
	case x.last.came != 0 && math.Abs(mm-x.last.mm) < step/2 && stayed < stairAbove:
		x.tread, x.last = x.last, tread{} // it has not left it
		return
	}
	down := fell > 0 && fell < swingSteps*step
	if down && x.down && stayed >= stairOn && x.came.Sub(x.before) >= max(stairAbove, stayed/stairEven) {
		x.took, x.told = stayed, at
	}
	x.last, x.tread = x.tread, tread{mm: mm, came: at, before: x.came, down: down}
}

// rate is how fast the level falls at the least, mm/h, and since when; false where that
// has not shown lately.
func (x *stair) rate(step float64, now aquarium.Instant) (perHour float64, since aquarium.Instant, ok bool) {
	if x.told == 0 || now.Sub(x.told) > max(stairLeast, stairHolds*x.took) {
		return 0, 0, false
	}
	return stairSure * step / x.took.Hours(), x.told.Add(-x.took), true
}

// follow looks once a minute.
func (x *swings) follow(t *tank, v *view, step float64) {
	s := t.level
	if v.now.Floor(time.Minute) != v.now || !s.current(v.now) {
		return
	}
	if _, known := t.on(t.topOff().Pump, v.now); known || v.now < t.vessel.unrest {
		*x = swings{}
		return
	}
	ps := s.window(v.now, max(swingFor, 3*s.interval()))
	mm, far := s.value(), swingSteps*step // which holds where only changes are told
	if step < swingStep {
		err := 1.25 / math.Sqrt(float64(max(1, len(ps)))) // of their middle, any textbook's
		far = max(far, swingLeast, max(swingNoise, swingRange*err)*t.errs(swingFor)+step)
	}
	if len(ps) > 0 {
		mm = middleIn(ps)
	}
	if x.looked == 0 {
		*x = swings{low: mm, high: mm, falling: true}
	}
	if step < swingStep && !x.falling && mm <= x.high-far && x.was-mm > burstShare*(x.high-mm) {
		*x = swings{low: mm, high: mm, falling: true} // false echoes, of which two are the middle of three
	}
	x.looked, x.was = v.now, mm
	if step >= swingStep {
		x.stair.take(v.now, mm, step)
	}
	switch {
	case x.falling && mm >= x.low+far:
		x.at, x.fell = [2]aquarium.Instant{v.now, x.at[0]}, [2]float64{x.high - x.low, x.fell[0]}
		x.falling, x.high = false, mm
	case x.falling:
		x.low = min(x.low, mm)
	case mm <= x.high-far:
		x.falling, x.low = true, mm
	default:
		x.high = max(x.high, mm)
	}
}

// lost is what the last two ways down come to at the least, l/h, and since when; false
// where they do not agree that it is more than may be.
func (x *swings) lost(t *tank, now aquarium.Instant, may float64) (litresH float64, since aquarium.Instant, ok bool) {
	perMM, _ := t.perMM()
	if mm, since, ok := x.stair.rate(t.vessel.step, now); ok && mm*perMM > may {
		return mm * perMM, since, true
	}
	if !x.falling || x.at[1] == 0 {
		return 0, 0, false
	}
	rate := func(mm float64, from, to aquarium.Instant) float64 {
		return min(mm, 2*t.topOff().BandMM) * perMM / to.Sub(from).Hours()
	}
	a, b := rate(x.fell[0], x.at[1], x.at[0]), rate(x.high-x.low, x.at[0], now)
	return (a + b) / 2, x.at[1], min(a, b) > may
}
