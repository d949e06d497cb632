package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Where no switch tells of the top-off and the level comes in steps as wide as its
// band, a leak that the top-off makes good shows neither in how fast the level falls
// nor in where it falls to: it goes down and comes up again, far more often than air
// takes so much. Two times in a row must agree. A level on the edge between two steps
// goes from one to the other by its noise: only more than a step is a swing. Common
// practice, no source.
const (
	swingStep  = 2.5 // mm: finer ones show how fast the level falls
	swingSteps = 1.5
	swingFor   = 2 * time.Minute // of which the middle is what the level is
)

// swings follows a coarse level down and up.
type swings struct {
	looked    aquarium.Instant // 0: nothing is followed
	low, high float64
	down      bool
	// The last times it was down, the newest first, and how far it had come to there.
	at   [2]aquarium.Instant
	fell [2]float64
}

// follow looks once a minute.
func (x *swings) follow(t *tank, v *view, step float64) {
	s := t.level
	if step < swingStep || v.now.Floor(time.Minute) != v.now || !s.current(v.now) {
		return
	}
	if _, known := t.on(t.topOff().Pump, v.now); known || v.now < t.vessel.unrest {
		*x = swings{}
		return
	}
	mm, far := middleIn(s.window(v.now, max(swingFor, 3*s.interval()))), swingSteps*step
	if x.looked == 0 {
		*x = swings{low: mm, high: mm, down: true}
	}
	x.looked = v.now
	switch {
	case x.down && mm >= x.low+far:
		x.at, x.fell = [2]aquarium.Instant{v.now, x.at[0]}, [2]float64{x.high - x.low, x.fell[0]}
		x.down, x.high = false, mm
	case x.down:
		x.low = min(x.low, mm)
	case mm <= x.high-far:
		x.down, x.low = true, mm
	default:
		x.high = max(x.high, mm)
	}
}

// lost is what the last two ways down come to at the least, l/h, and since when; false
// where they do not agree that it is more than may be.
func (x *swings) lost(t *tank, now aquarium.Instant, may float64) (litresH float64, since aquarium.Instant, ok bool) {
	if !x.down || x.at[1] == 0 {
		return 0, 0, false
	}
	perMM, _ := t.perMM()
	rate := func(mm float64, from, to aquarium.Instant) float64 {
		return min(mm, 2*t.topOff().BandMM) * perMM / to.Sub(from).Hours()
	}
	a, b := rate(x.fell[0], x.at[1], x.at[0]), rate(x.high-x.low, x.at[0], now)
	return (a + b) / 2, x.at[1], min(a, b) > may
}
