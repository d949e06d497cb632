package detect

import (
	"math"
	"slices"
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
	doubtSoon = 0.2 // within soonOver: that is 2.4 pH an hour, five times what water can
	// Water that gas brings down, by doubtDown within riseOver, goes on down until that
	// has mixed: less of a rise in the midst of it is a probe out of the water, and more
	// of one than a calibration makes.
	doubtTurn = 0.15
	doubtDown = 0.08
	doubtFall = 0.6
	openFall  = 1.0 // while gas may come: thirty times the flow, of a morning
	riseOver  = 10  // minutes
	soonOver  = 5
	fallOver  = 3
	// A shorted electrode gives 0 mV, which is pH 7: at once, and then
	// nothing. A calibration moves the pH by a tenth.
	shortedAt   = 7.0
	shortedNear = 0.05
	shortedStep = 0.15
	shortedFlat = 0.03
	smallStep   = 0.06
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
	// What rests so far away still is in no tank: by night the water is 0.7 higher than
	// by day, and a buffer is three times that away.
	backShare = 1.0 / 3
	// One that moved as water does and then did not answer the gas has said nothing
	// by moving: only hands, a calibration or the gas of another day can show that
	// it tells the truth.
	calmVain   = 12 * time.Hour
	leftLately = time.Hour
	// Where it has just come near to where it was, it may be passing by: a probe
	// that is put back comes in a minute or two from further off than nearFrom, and
	// any other must have moved as this tank's water does for nearFor. That is, in
	// ten minutes: no quicker upwards than twice what one exchange of gas an hour
	// makes, and downwards only as gas may make it, with the valve shut not at all.
	nearFrom  = 0.23
	nearFor   = 30 * time.Minute
	likeRise  = 0.15
	likeFall  = 0.45
	likeShut  = 0.03
	shutSince = 15 * time.Minute // until what was let in has mixed
	// A rise that is no leap is one of a probe in air, or one that dries: nothing
	// is calibrated bit by bit. Nor is a fall that stops within minutes one of gas,
	// where none was let in: gas that comes steadily goes on by 0.095 at the least
	// in the four minutes after six in which it made 0.2, as logarithms go.
	glideRise = 0.2
	restFall  = 0.2
	restMoves = 0.08
	restOver  = 4 // minutes
	// No water has less gas than what the night comes to, but for plants without any: what
	// is so far above that is none, however it moves.
	aboveNight = 0.3
	// A fall of so much, of which in slackOver minutes less than this share of what steady
	// gas makes is left, is not told of a valve.
	slackFall  = 0.15
	slackOver  = 3 // minutes
	slackShare = 0.7
	// provenRate is within how much, as a logarithm, gas must seem to come as fast
	// as it usually does: half or twice.
	provenRate = 0.3
	bufferCalm = 5 * time.Minute
	bufferRest = 0.04             // pH that it moves by meanwhile: a film that dries on it makes more
	bufferMost = 90 * time.Minute // and then it was forgotten there
	// While the tank is to be dosed by it, it may be there for half an hour, less a
	// reading and two looks.
	bufferDosed = 27 * time.Minute
	bufferBack  = 20 * time.Minute // what comes from a buffer to 7 by then is no short
	// An electrode whose plug is out reads whatever its cable catches: no water goes up
	// and down by tenths from one reading to the next. That is the second difference,
	// so that no trend counts, over some minutes, of which one leap is never enough. A
	// poor probe's noise of 0.02 makes 0.04. Common practice, no source.
	roughShare = 0.2  // of a minute in the mean
	roughMost  = 0.3  // pH that one may count for
	roughMay   = 0.08 // nothing is told from it
	roughIs    = 0.15
	// What a poor probe makes is allowed for where a step is taken for none of water's:
	// the middle of three readings goes by 1.3 times the mean second difference, once
	// in a thousand minutes. Worked out for normal noise.
	roughPoor  = 0.045
	roughSteps = 1.3
	wildFor    = 5 * time.Minute // hands that take it from one buffer to the next do it for less
)

// gasIs is what is known of the gas while a pH is followed.
type gasIs uint8

const (
	gasMayCome gasIs = iota
	gasShut          // for shutSince
)

// doubt follows whether the pH probe says what water can say, from minute to
// minute.
type doubt struct {
	last   [riseOver]float64 // the newest first
	n      int
	silent int // how many readings there were when the last gap was
	// since is when it began to say what water cannot, or when somebody left
	// who had it in hand; 0: it does not.
	since     aquarium.Instant
	from      float64          // what it said before
	far       float64          // how far it went away from that
	shorted   bool             // it went to pH 7: that is no leap for water, but for its being flat there
	buffer    aquarium.Instant // when it was last so far away
	low, high float64          // since then
	like      aquarium.Instant // since when it has moved as this tank's water does
	calm      aquarium.Instant
	calmLow   float64
	calmHigh  float64
	left      aquarium.Instant // when somebody was last there
	shut      aquarium.Instant // when gas was last known to be shut, for shutSince; 0: never
	lifted    aquarium.Instant // when it rose quickly without any; 0: not lately
	bottom    float64          // before that
	night     float64          // what the tank's nights come to; 0: not known
	// lain is since when it has lain at pH 7; zero the same after a small step, and
	// before is where it came from: too little to doubt it for that.
	lain   aquarium.Instant
	zero   aquarium.Instant
	before float64
	// unproven is set while it is believed again for no more than having moved as
	// water may: gas that is asked for and does not come is then the probe's doing.
	unproven bool
	ended    aquarium.Instant // when it began to be
	vain     bool             // it is doubted for not answering the gas
	hops     hops
	rough    float64          // mean second difference of the readings
	wildly   aquarium.Instant // since when that has been too much; 0: it is not
}

// follow takes in the pH of a minute. Somebody at work makes it say anything, and
// all his time it is not to be believed once it has said what water cannot.
func (d *doubt) follow(at aquarium.Instant, v float64, visited bool, gas gasIs) {
	if visited {
		d.left = at
	}
	if gas == gasShut {
		d.shut = at
	}
	d.lift(at, v, visited, gas)
	if d.since == 0 {
		d.begin(at, v, gas)
	} else {
		d.goOn(at, v, gas)
	}
	if visited && d.since != 0 {
		d.since, d.calm, d.like = at, 0, 0
	}
	d.lie(at, v, visited)
	moved := d.hops.since
	if d.hops.follow(at, v, d.last[:d.n], visited); moved != 0 && d.hops.since == 0 && !visited {
		d.unproven, d.ended = true, at
	}
	copy(d.last[1:], d.last[:riseOver-1])
	d.last[0], d.n = v, min(d.n+1, riseOver)
}

// noise is by how much a step may seem greater than it is.
func (d *doubt) noise() float64 { return roughSteps * min(d.rough, roughPoor) }

// lie follows a pH that lies where a shorted electrode does.
func (d *doubt) lie(at aquarium.Instant, v float64, visited bool) {
	if math.Abs(v-shortedAt) > shortedNear || visited {
		d.lain, d.zero = 0, 0
		return
	}
	if d.lain == 0 {
		d.lain = at
	}
	if d.zero == 0 && d.n > 0 && math.Abs(v-d.last[0]) >= smallStep {
		d.zero, d.before = at, d.last[0]
	}
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

// soars reports whether the pH has risen within soonOver as no water does, and stays
// there: a step that was a splash is over with the next reading.
func (d *doubt) soars(v float64) bool {
	if d.n < soonOver {
		return false
	}
	low := slices.Min(d.last[:soonOver])
	least := doubtSoon
	if d.n == riseOver && d.last[riseOver-1]-low >= doubtDown {
		least = doubtTurn
	}
	return min(v, d.last[0])-low >= least
}

func (d *doubt) begin(at aquarium.Instant, v float64, gas gasIs) {
	rise, fall, low, high := d.leap(v)
	seven := math.Abs(v-shortedAt) <= shortedNear && max(rise, fall) >= shortedStep
	most := doubtFall
	if gas == gasMayCome {
		most = openFall
	}
	switch {
	case rise >= doubtRise || seven && rise >= shortedStep:
		d.from = low
	case fall >= most || seven:
		d.from = high
	case d.glides(v) || d.soars(v):
		d.from = low
	case d.wild(at):
		d.from = d.last[max(0, d.n-1)]
	case d.shut != 0 && at.Sub(d.shut) <= restOver*time.Minute && d.rests(v): // as of when it fell
		d.from = d.last[riseOver-1]
	case d.sinks(v):
		d.from = d.bottom
	default:
		return
	}
	d.start(at, v, v)
	d.shorted = seven && rise < doubtRise && fall < most
}

// start begins to doubt the pH, which since then has lain from low to high.
func (d *doubt) start(since aquarium.Instant, low, high float64) {
	d.since, d.low, d.high, d.calm, d.like, d.far, d.vain = since, low, high, 0, 0, 0, false
}

// glides reports whether the pH has risen bit by bit as no water does.
func (d *doubt) glides(v float64) bool {
	if d.n < riseOver || v-d.last[riseOver-1] < glideRise {
		return false
	}
	most, to := 0.0, v
	for _, x := range d.last {
		most, to = max(most, to-x), x
	}
	return most < glideRise/2
}

// slackens reports whether a fall is no longer what steady gas makes of it: as
// logarithms go, that goes on by a known share of what it did.
func (d *doubt) slackens() bool {
	if d.n < riseOver {
		return false
	}
	fall, on := d.last[riseOver-1]-d.last[slackOver], d.last[slackOver]-d.last[0]
	share := float64(slackOver) / (riseOver - 1 - slackOver)
	return fall >= slackFall && on < slackShare*math.Log10(1+share*(1-math.Pow(10, -fall)))
}

// rests reports whether the pH has fallen within minutes, and then stopped.
func (d *doubt) rests(v float64) bool {
	if d.n < riseOver || d.last[riseOver-1]-d.last[restOver-1] < restFall {
		return false
	}
	low, high := v, v
	for _, x := range d.last[:restOver] {
		low, high = min(low, x), max(high, x)
	}
	return high-low <= restMoves
}

func (d *doubt) goOn(at aquarium.Instant, v float64, gas gasIs) {
	away := math.Abs(v - d.from)
	d.low, d.high, d.far = min(d.low, v), max(d.high, v), max(d.far, away)
	if away >= bufferAway {
		d.buffer = at
	}
	seven := math.Abs(v-shortedAt) <= shortedNear
	if d.shorted && !seven && d.left == at {
		d.shorted = false // it lay in a buffer, and goes to the next one or back
	}
	near := away <= doubtBack && !d.wild(at) && math.Abs(d.last[0]-d.from) <= doubtBack && // it does not just pass
		(d.n <= fallOver || math.Abs(d.last[fallOver]-d.from) >= nearFrom)
	if d.shorted && (!seven || d.high-d.low > shortedFlat) || !d.shorted && near && at.Sub(d.since) < implausibleOn {
		d.forget(at)
		d.since = 0
		return
	}
	noise := d.noise()
	if step := v - d.last[0]; d.calm == 0 || step > max(calmRise, noise) || step < -max(calmFall, noise) {
		d.calm, d.calmLow, d.calmHigh = at, v, v
	}
	d.calmLow, d.calmHigh = min(d.calmLow, v), max(d.calmHigh, v)
	if d.like == 0 || !d.likeWater(v, gas) {
		d.like = at
	}
	calm, like, moves := at.Sub(d.calm), at.Sub(d.like), d.calmHigh-d.calmLow >= calmMoves
	short := seven && d.calmHigh-d.calmLow <= shortedFlat // water at 7 moves
	handled := !short && (d.far >= bufferAway && away <= backShare*d.far || d.left != 0 && at.Sub(d.left) < leftLately)
	back := !seven && away <= doubtBack
	moved := (like >= calmFor && calm >= calmFor && moves || like >= nearFor && back) && (d.night == 0 || v <= d.night+aboveNight)
	if (moved && (!d.vain || at.Sub(d.since) >= calmVain) || calm >= calmBack && handled) && v >= leastWaterPH && v <= mostWaterPH {
		d.since, d.unproven, d.ended = 0, !handled, at
	}
}

// forget takes spikes out of what is remembered once they are over, and what a probe read
// in somebody's hands: they are no low that the pH rises from.
func (d *doubt) forget(at aquarium.Instant) {
	ago := int(at.Sub(d.since) / time.Minute)
	if d.shorted || ago > restOver {
		return
	}
	if d.left == at {
		ago = riseOver
	}
	for i := range d.last[:min(ago, d.n)] {
		if math.Abs(d.last[i]-d.from) >= nearFrom {
			d.last[i] = d.from
		}
	}
}

// likeWater reports whether the pH has moved over the last minutes as this tank's
// water may.
func (d *doubt) likeWater(v float64, gas gasIs) bool {
	if d.n < riseOver {
		return true // not known
	}
	by, fall := v-d.last[riseOver-1], likeFall
	if gas == gasShut {
		fall = likeShut
	}
	return by <= likeRise && by >= -fall
}
