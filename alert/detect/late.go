package detect

import (
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// An electrode whose membrane is fouled follows the water late, and so does its
// controller: the valve shuts late, and the pH goes on falling for as long as the
// electrode is behind. How far it falls after the valve has shut, by how fast it
// fell before, is that time, whatever the flow of gas; mixing alone makes some
// minutes of it. It is the tank's own, and what counts is that it has grown: to
// lateTimes what is usual and by lateMore, on two days together. Common practice,
// no source.
const (
	lateBefore = 10 * time.Minute // over which the fall is taken
	lateReads  = 0.015            // pH that the lowest reading may be wrong by
	lateTurned = 0.03             // pH over the lowest: it has turned
	lateMost   = 4 * time.Hour
	lateADay   = 1 // times it must be seen
	lateHeld   = 16
	lateKnown  = 4 // days
	lateKept   = 28
	lateTimes  = 2
	lateMore   = 4 // minutes
	lateMixes  = 2 // minutes that mixing alone takes at least
	lateDays   = 2
	lateAdopt  = 14 // days after which that is what is usual
	lateTurns  = 4
	// lateFall is the least fall, in pH an hour: of a slower one lateReads is longer
	// than what is looked for. One that is very late has slowed the fall itself, and is
	// seen for as late as it is all the same: by more than lateReads is long, from
	// lateLeast on, under which noise is most of the fall.
	lateFall  = lateReads * 60 / lateMore
	lateLeast = 0.1
)

// turning follows how late the pH turns once the valve has shut.
type turning struct {
	of            aquarium.Instant // when it did; 0: nothing is followed
	done          aquarium.Instant // the last one that was looked at
	rate          float64          // by what the pH fell then, an hour
	from, perHour float64          // the pH then, and its fall
	low           float64
	lowAt         aquarium.Instant
	day           aquarium.Instant
	today, before lates
}

// lates are how many minutes late the pH turned, each time.
type lates struct {
	minutes [lateHeld]float64
	n       int
}

func (x *lates) take(minutes float64) {
	if x.n < lateHeld {
		x.minutes[x.n] = minutes
		x.n++
	}
}

// median is false where it was seen too rarely.
func (x *lates) median() (minutes float64, ok bool) {
	if x.n < lateADay {
		return 0, false
	}
	return statistic.Median(slices.Clone(x.minutes[:x.n])), true
}

// followTurning looks on each minute whether the pH has turned.
func (t *tank) followTurning(v *view, s *series) {
	x := &t.turning
	if d := v.now.Floor(day); d != x.day {
		if x.before = x.today; d.Sub(x.day) > day {
			x.before = lates{}
		}
		x.day, x.today = d, lates{}
	}
	if !s.current(v.now) || t.visited || v.w.mains.lost || t.doubted() || !t.haveShut {
		x.of = 0
		return
	}
	if t.shutAt != x.done && x.of != t.shutAt {
		x.of, x.done = t.shutAt, t.shutAt
		p, ok := slope(s.held(t.shutAt, lateBefore), lateBefore)
		x.rate = max(0, -p)
		if !ok || p > -lateLeast || t.shutFrom == 0 || v.now.Sub(t.shutAt) > lateBefore {
			x.of = 0
			return
		}
		x.from, x.perHour, x.low, x.lowAt = t.shutFrom, -p, s.value(), v.now
	}
	if x.of == 0 {
		return
	}
	if s.value() < x.low {
		x.low, x.lowAt = s.value(), v.now
	}
	if s.value() >= x.low+lateTurned {
		if minutes, known := x.turnedAfter(t.learned.Lateness); known {
			x.today.take(minutes)
		}
		x.of = 0
	} else if v.now.Sub(x.of) > lateMost {
		x.of = 0
	}
}

// turnedAfter is how late the pH has turned, false where it fell so slowly before that
// this says nothing: what is usual then is less than a reading's error. No electrode
// falls faster once the valve has shut than before: what came sooner is its noise.
func (x *turning) turnedAfter(l Lateness) (minutes float64, known bool) {
	fall := min(max(0, x.from-x.low), x.perHour*x.lowAt.Sub(x.of).Hours())
	if x.perHour >= lateFall {
		return fall / x.perHour * 60, true
	}
	usual, ok := l.usual()
	minutes = (fall - lateReads) / x.perHour * 60
	return minutes, ok && tooLate(minutes, usual)
}

// Lateness is how late the pH turns after the valve has shut, by the day.
type Lateness struct {
	Days []float64 `json:"days,omitempty"` // min, of those that are usual, the newest last
	Last float64   `json:"last"`           // min, of the newest day
	Late int       `json:"late"`           // days on end that were not usual
}

// usual is false until enough is known.
func (l Lateness) usual() (minutes float64, ok bool) {
	if len(l.Days) < lateKnown {
		return 0, false
	}
	return statistic.Median(slices.Clone(l.Days)), true
}

// tooLate reports whether that is later than is usual. No water mixes at once: where
// no lateness is usual, that is what the readings leave out.
func tooLate(minutes, usual float64) bool {
	usual = max(usual, lateMixes)
	return minutes >= max(lateTimes*usual, usual+lateMore)
}

// learnLateness takes the day in.
func learnLateness(v *view, t *tank, l *Learned) {
	seen := &t.turning.today
	if t.turning.day == l.Through {
		seen = &t.turning.before
	}
	minutes, ok := seen.median()
	if !ok {
		return
	}
	next := l.Lateness
	next.Last = minutes
	switch usual, known := next.usual(); {
	case !known || !tooLate(minutes, usual):
		next.Late, next.Days = 0, append(slices.Clone(last(next.Days, lateKept-1)), minutes)
	case next.Late < lateAdopt:
		next.Late++
	default:
		next.Late, next.Days = 0, []float64{minutes}
	}
	l.Lateness = next
}

// mixing is how long the pH may go on falling after the valve has shut. An electrode
// that lags, in water that mixes within minutes, turns after two to three and a half
// times what is learned of it, by how much faster the gas comes than it leaves: see
// the test.
func (t *tank) mixing() time.Duration {
	if t.lateSince() == 0 {
		return stuckMixing
	}
	return max(stuckMixing, time.Duration(lateTurns*t.learned.Lateness.Last*float64(time.Minute)))
}

// mayBeLate reports whether the electrode is late, or has been on one of the last two
// days: too little to be told, and enough to wait for it.
func (t *tank) mayBeLate() bool {
	if t.lateSince() != 0 {
		return true
	}
	usual, known := t.learned.Lateness.usual()
	for _, x := range []*lates{&t.turning.today, &t.turning.before} {
		if minutes, seen := x.median(); known && seen && tooLate(minutes, usual) {
			return true
		}
	}
	return false
}

// lateSince is since when the electrode has been late; 0: it is not.
func (t *tank) lateSince() aquarium.Instant {
	if n := t.learned.Lateness.Late; n >= lateDays {
		return t.learned.Through.Add(-time.Duration(n) * day)
	}
	return 0
}
