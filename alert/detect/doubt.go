package detect

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// What water can do to a pH. Upwards, within ten minutes: gas leaves a tank with
// at most one exchange an hour, which is 0.43 pH an hour; four times that is
// allowed for. Downwards, within three: a normal flow of gas in water at its
// night's plateau makes 2.5 pH an hour, eight times that flow 0.4 within three
// minutes, for it has to be mixed first. Common practice, no source.
const (
	doubtRise = 0.3
	doubtFall = 0.6
	riseOver  = 10 // minutes
	fallOver  = 3
	// A shorted electrode gives 0 mV, which is pH 7: at once, and then
	// nothing. A calibration moves the pH by a tenth.
	shortedAt   = 7.0
	shortedNear = 0.05
	shortedStep = 0.15
	shortedFlat = 0.03
	smallStep   = 0.06
	// shortedOver is for how long it must have lain there, and shortedAsked for
	// how long gas has been asked for, which would have moved it.
	shortedOver  = 45 * time.Minute
	shortedAsked = 20 * time.Minute
	// doubtBack is how near to where it was the pH must be to be believed
	// again at once, within twenty minutes.
	doubtBack = 0.15
	// Else it is believed when it has moved as water does for long enough: for a
	// quarter of an hour where it has come back to where it was, or from a buffer,
	// or somebody has just left who had it in hand; otherwise for an hour, and it
	// must have moved at all, as in a buffer it would not. A rise of 1.5 pH an hour
	// is none of water's.
	calmBack   = 15 * time.Minute
	calmFor    = time.Hour
	calmRise   = 0.025 // pH a minute
	calmFall   = 0.045
	calmMoves  = 0.03
	bufferAway = 2.0 // pH: no tank is so near to a buffer of 4 or 9
	leftLately = time.Hour
)

// doubt follows whether the pH probe says what water can say, from minute to
// minute.
type doubt struct {
	last [riseOver]float64 // the newest first
	n    int
	// since is when it began to say what water cannot, or when somebody left
	// who had it in hand; 0: it does not.
	since     aquarium.Instant
	from      float64 // what it said before
	far       float64 // how far it went away from that
	shorted   bool    // it went to pH 7: that is no leap for water, but for its being flat there
	low, high float64 // since then
	calm      aquarium.Instant
	calmLow   float64
	calmHigh  float64
	left      aquarium.Instant // when somebody was last there
	// zero is since when it has lain at pH 7 after a small step, and before is
	// where it came from: too little to doubt it for that.
	zero   aquarium.Instant
	before float64
}

// follow takes in the pH of a minute. Somebody at work makes it say anything, and
// all his time it is not to be believed once it has said what water cannot.
func (d *doubt) follow(at aquarium.Instant, v float64, visited bool) {
	if visited {
		d.left = at
	}
	if d.since == 0 {
		d.begin(at, v)
	} else {
		d.goOn(at, v)
	}
	if visited && d.since != 0 {
		d.since, d.calm = at, 0
	}
	switch seven := math.Abs(v-shortedAt) <= shortedNear; {
	case !seven || visited:
		d.zero = 0
	case d.zero == 0 && d.n > 0 && math.Abs(v-d.last[0]) >= smallStep:
		d.zero, d.before = at, d.last[0]
	}
	copy(d.last[1:], d.last[:riseOver-1])
	d.last[0], d.n = v, min(d.n+1, riseOver)
}

// leap is how far v lies above the lowest and below the highest of what came
// lately, and those.
func (d *doubt) leap(v float64) (rise, fall, low, high float64) {
	if d.n == 0 {
		return 0, 0, v, v
	}
	low, high = d.last[0], d.last[0]
	for i, x := range d.last[:d.n] {
		if low = min(low, x); i < fallOver {
			high = max(high, x)
		}
	}
	return v - low, high - v, low, high
}

func (d *doubt) begin(at aquarium.Instant, v float64) {
	rise, fall, low, high := d.leap(v)
	seven := math.Abs(v-shortedAt) <= shortedNear && max(rise, fall) >= shortedStep
	switch {
	case rise >= doubtRise || seven && rise >= shortedStep:
		d.from = low
	case fall >= doubtFall || seven:
		d.from = high
	default:
		return
	}
	d.since, d.low, d.high, d.calm, d.far = at, v, v, 0, 0
	d.shorted = rise < doubtRise && fall < doubtFall
}

func (d *doubt) goOn(at aquarium.Instant, v float64) {
	away := math.Abs(v - d.from)
	d.low, d.high, d.far = min(d.low, v), max(d.high, v), max(d.far, away)
	seven := math.Abs(v-shortedAt) <= shortedNear
	near := away <= doubtBack && math.Abs(d.last[0]-d.from) <= doubtBack // it does not just pass
	if d.shorted && (!seven || d.high-d.low > shortedFlat) || !d.shorted && near && at.Sub(d.since) < implausibleOn {
		d.since = 0
		return
	}
	if step := v - d.last[0]; d.calm == 0 || step > calmRise || step < -calmFall {
		d.calm, d.calmLow, d.calmHigh = at, v, v
	}
	d.calmLow, d.calmHigh = min(d.calmLow, v), max(d.calmHigh, v)
	calm, moves := at.Sub(d.calm), d.calmHigh-d.calmLow >= calmMoves
	back := !seven && (away <= doubtBack || d.far >= bufferAway || d.left != 0 && at.Sub(d.left) < leftLately)
	if (calm >= calmFor && moves || calm >= calmBack && back) && v >= leastWaterPH && v <= mostWaterPH {
		d.since = 0
	}
}

// doubtPH follows the tank's pH: all that comes of it, for what the screen holds
// back is what there is to doubt.
func (t *tank) doubtPH(v *view) {
	s, _, ok := t.acidSeries()
	switch {
	case !ok:
	case v.now.Sub(s.heard) > max(2*time.Minute, 3*s.interval()) || s.hand.n < len(s.hand.last):
		t.doubt.n = 0
	default:
		raw := middleOf(s.hand.last[0], s.hand.last[1], s.hand.last[2])
		t.calibrations.follow(v.now, raw, t.visited)
		t.doubt.follow(v.now, raw, t.visited)
	}
}

// doubtZero begins to doubt a pH that stepped to 7, where a shorted electrode
// lies, by too little to be doubted for that, and stays there though gas has been
// asked for.
func (t *tank) doubtZero(v *view, s *series) {
	d := &t.doubt
	asked := t.dosing.asked
	if d.since != 0 || d.zero == 0 || asked == 0 || v.now.Sub(asked) < shortedAsked || v.now.Sub(d.zero) < shortedOver || !s.current(v.now) {
		return
	}
	if low, high := extremes(s.window(v.now, shortedOver)); high-low <= shortedFlat {
		d.since, d.from, d.shorted, d.calm, d.far = max(asked, d.zero), d.before, true, 0, 0
		d.low, d.high = low, high
	}
}

// doubted reports whether the pH is not to be believed: nothing is told from it
// then but that.
func (t *tank) doubted() bool { return t.doubt.since != 0 }
