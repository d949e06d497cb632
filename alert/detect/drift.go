package detect

import (
	"math"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// A pH electrode that reads e too high lets its controller bring in 10^e times
// the CO2. Three things then move together, each by e or nearly, and each alone
// has other reasons:
//
//   - the pH the night comes to reads e higher; so it does when the water gives
//     off more gas or less is breathed out;
//   - by the pH, gas comes 10^e times more slowly in the morning, for the same
//     gas in 10^e times the CO2 is that share of it; so it does when the needle
//     valve is turned down;
//   - the valve is open for more of the day, about 10^(0.85 e) times; so it is
//     when plants grow, or either of the others is so.
//
// What all of them agree on is the probe, or the alkalinity: water with 10^d
// times the alkalinity does exactly what a probe does that reads d too high, the
// rise of CO2 included, for pH knows CO2 only by its ratio to the alkalinity. No
// sum tells the two apart: a KH test does, or a second meter.
//
// How far night and ramp can show an error at all see outgassing.go; of a tank that doses
// day and night see held.go.
//
// A healthy tank does it slowly: it loses alkalinity, 0.01 to 0.03 dKH a day,
// which looks like a probe that reads up to 0.003 pH a day lower; a good
// electrode ages by 0.002 a day. So what is usual follows, towards lower
// readings within a month and towards higher, which mean more gas, within three.
// Common practice, no source.

// Drift is what the mornings of a tank have come to since the probe was last
// handled.
type Drift struct {
	From     aquarium.Instant `json:"from"` // nothing before counts
	Through  aquarium.Instant `json:"through"`
	Mornings int              `json:"mornings"` // since From
	KH       float64          `json:"kh"`       // dKH, in force as of what is usual
	Plateau  Trait            `json:"plateau"`
	Rate     Trait            `json:"rate"`
	Duty     Trait            `json:"duty"`
	Shows    float64          `json:"shows,omitempty"` // how far an error of the probe shows in Plateau, smoothed; 0: not known
	Gains    float64          `json:"gains,omitempty"` // and in Rate
	Shift    float64          `json:"shift"`           // pH, smoothed; positive: reads high
	Leap     float64          `json:"leap,omitempty"`  // the most it has moved in one morning since it was nearly nothing
	Last     float64          `json:"last"`            // of the last morning alone
	Share    float64          `json:"share"`           // of the valve as of Through's day, as its logarithm; 0: not known
}

// driftLambda is the weight of the last morning in the smoothed shift: it must be
// told by the time it has come to 0.2 pH, and so may not lag.
const driftLambda = 0.7

// The shift must be told at 0.2. A calibration that moves the pH by a tenth, and
// was not noted, must not: so it is told from 0.13 on, which leaves 0.07 for the
// morning it takes to be seen. For a tank whose mornings
// lie apart by more than usual the limit is wider: driftWide standard deviations
// of the smoothed shift, which one tank's mornings pass once in ten years by
// themselves (EwmaLimit(0.7, 3650) is 3.64, for both sides).
const (
	driftLimit = 0.13
	driftWide  = 3.64
	driftBack  = 0.6 // of the limit
	// A calibration is done in a moment; what has come little by little is none, and is
	// told from 0.1 on where the probe reads high: the error it had when what is usual was
	// learned, and the alkalinity that is lost meanwhile, hide as much again in a month.
	driftCrept   = 0.1
	driftLeap    = 0.5 // of the shift, in one morning
	driftNothing = 0.03
	// The morning itself must say so too, and the one before: a single bad
	// morning is no drift.
	driftAgrees = 0.6 // of the limit
	// What is usual does not follow what is under suspicion.
	driftSuspect = 0.08
	// So much in one morning is a probe that was badly calibrated.
	driftSudden = 0.18
	// A drift that goes on is told the morning before it is too late: where it
	// will have come so far by the next one, two mornings having said so.
	driftAhead = 0.15
	driftGrown = 0.025
	driftTimes = 3 // standard deviations of what a morning says
	// Water that loses its alkalinity within days has come to too little before the
	// second morning shows it: the night itself is compared, hour by hour, once the
	// morning before has said so too.
	nightShift = 0.17
	nightAfter = 0.06
	nightDays  = 7
	nightLeast = 4
	nightShows = 0.6
	nightEarly = 0.3 // without what is left of how the gas ended
	// The night's pH goes with the room's air from day to day, whether nights that followed
	// one another did or not: by 0.02 where that holds a twentieth more or less CO2. That
	// excuses a night by half the limit at the most.
	nightAir    = 0.02
	nightMay    = driftLimit / 2
	rampSD      = 0.01 // the same of the ramp, of a meter that reads to 0.01
	showsSmooth = 0.2
)

// shows is the share of a shift that a night's pH shows at an hour at which it usually
// has come so far from the target, where the controller let it begin, to the plateau,
// where all of it shows. The controller held its pH, so that the gas was off by the
// shift: what of that has left by then shows. With the gas as multiples of what the
// night comes to, 10^(plateau-pH), of which the excess decays: the derivative of the
// pH by the shift.
func (k *Drift) shows(ph, target float64) float64 {
	if ph <= target || k.Plateau.Base <= target {
		return 0
	}
	if ph >= k.Plateau.Base {
		return 1
	}
	left := math.Expm1(math.Ln10*(k.Plateau.Base-ph)) / math.Expm1(math.Ln10*(k.Plateau.Base-target))
	return 1 - left*math.Pow(10, ph-target)
}

// khShift is how far alkalinity that was measured since has moved what the probe
// reads.
func khShift(kh, was float64) float64 {
	if kh <= 0 || was <= 0 || kh == was {
		return 0
	}
	return math.Log10(kh / was)
}

// less is a shift without what the alkalinity explains of it. A hand test may
// also have found what was so all the time: then it explains nothing, and the
// shift is the smaller for leaving it out.
func less(shift, explained float64) float64 {
	if x := shift - explained; math.Abs(x) < math.Abs(shift) {
		return x
	}
	return shift
}

// shift is what a morning's three say together; 0 where they do not agree. by is
// how much of it alkalinity explains.
func (k *Drift) shift(m morning, kh float64) (shift, by float64) {
	by = khShift(kh, k.KH)
	with, without := k.agreed(m, by), k.agreed(m, 0)
	if math.Abs(with) < math.Abs(without) {
		return with, by
	}
	return without, 0
}

// agreed is what the three say together once alkalinity has explained its part: what
// night and morning say, each made of it what it shows and weighed by how well it is
// known, and no more than twice what any of the three does, or could by how far it
// scatters. A night that says nothing or the contrary never comes to what is told.
//
// Of what has come since the evening the night shows more than the morning does, for the
// gas was held by the pH of before: then the plain mean of both says more, and holds.
func (k *Drift) agreed(m morning, by float64) float64 {
	night, gas := m.Plateau-k.Plateau.Base, k.Rate.Base-m.Rate
	plain := (night+gas)/2 - by
	plain = atMost(plain, 2*(night-by), 2*(gas-by))
	shows, gains := k.sensitivity()
	nightSD, gasSD := k.spreads()
	night, gas = night/shows-by, gas/gains-by
	mean := night + (gas-night)*nightSD*nightSD/(nightSD*nightSD+gasSD*gasSD)
	way := math.Copysign(1, mean)
	shift := atMost(mean, 2*(night+way*min(nightSD, nightMay)), 2*(gas+way*gasSD))
	if math.Abs(plain) > math.Abs(shift) {
		shift = plain
	}
	// The valve's share is that of the day before: of what has just come, and
	// is so much that nothing else does it, it cannot know yet.
	if m.Duty != 0 && k.Duty.N >= traitLeast && math.Abs(shift) < driftSudden {
		shift = atMost(shift, 2*(m.Duty-k.Duty.Base-by))
	}
	return shift
}

// sensitivity is how far an error of the probe shows in night and ramp.
func (k *Drift) sensitivity() (shows, gains float64) {
	if k.Shows > 0 {
		return k.Shows, k.Gains
	}
	return 1, 1
}

// spreads is how far shifts scatter that night and ramp say, in pH.
func (k *Drift) spreads() (night, gas float64) {
	shows, gains := k.sensitivity()
	return max(nightAir, k.Plateau.sd()) / shows, max(rampSD, k.Rate.sd()) / gains
}

// sd is how far what they say together scatters.
func (k *Drift) sd() float64 {
	night, gas := k.spreads()
	return night * gas / math.Hypot(night, gas)
}

// nightTells reports whether the night says of a shift what gas that comes more slowly, or
// faster, would not make it say.
func (k *Drift) nightTells(night, shift float64) bool {
	shows, _ := k.sensitivity()
	return shows >= nightShows && night*math.Copysign(1, shift) >= shows*math.Abs(shift)/2
}

// atMost is a shift as far as others go the same way.
func atMost(shift float64, others ...float64) float64 {
	way := math.Copysign(1, shift)
	size := math.Abs(shift)
	for _, x := range others {
		size = min(size, max(0, x*way))
	}
	return way * size
}

// badly reports whether the morning after the probe was handled, as for a
// calibration that nobody noted, is so far from what was usual before that it was
// calibrated badly: a good one moves it by what it had drifted meanwhile.
func (k *Drift) badly(m morning, handled aquarium.Instant, kh float64) bool {
	if k.Mornings < traitLeast || m.At <= handled {
		return false
	}
	shift, _ := k.shift(m, kh)
	return math.Abs(shift) >= max(driftSudden, k.limit())
}

// smooth is the smoothed shift once a morning has brought its own.
func (k *Drift) smooth(shift float64) float64 {
	e := statistic.Ewma{Lambda: driftLambda, Value: k.Shift}
	e.Take(shift)
	return e.Value
}

// leapt is the most the smoothed shift has moved in a morning, the last one's included.
func (k *Drift) leapt(was, is float64) float64 {
	if math.Abs(is) < driftNothing {
		return 0
	}
	return max(k.Leap, math.Abs(is-was))
}

// limit is the smoothed shift that is told.
func (k *Drift) limit() float64 {
	return max(driftLimit, driftWide*statistic.EwmaSpread(driftLambda)*k.Plateau.sd())
}

// learnDrift takes the day's morning in.
func learnDrift(v *view, t *tank, l *Learned) {
	if !t.dosed() {
		return
	}
	next := Drift{KH: t.kh}
	if l.Drift != nil {
		next = *l.Drift
	}
	if from := t.calibrated(v); from > next.From {
		next = next.anew(from, t.kh)
	}
	m := t.dosing.morning
	if handled := t.calibrations.at; handled > next.From && m.At > handled && !next.badly(m, handled, t.kh) {
		next = next.anew(handled, t.kh)
	}
	next.Share = t.sharing()
	if m.At > max(next.Through, next.From) && m.At < l.Through {
		next.take(m, t.kh)
	}
	l.Drift = &next
}

// anew begins again once the probe has been handled.
func (k *Drift) anew(at aquarium.Instant, kh float64) Drift {
	return Drift{From: at, Through: at, KH: kh, Plateau: k.Plateau.anew(), Rate: k.Rate.anew(), Duty: k.Duty.anew()}
}

// take takes a morning in.
func (k *Drift) take(m morning, kh float64) {
	shift, by := 0.0, 0.0
	if k.Mornings >= traitLeast {
		shift, by = k.shift(m, kh)
		was := k.Shift
		k.Shift = k.smooth(shift)
		k.Leap = k.leapt(was, k.Shift)
	}
	k.Last, k.Through = shift, m.At
	k.Mornings++
	if math.Abs(k.Shift) >= driftSuspect && k.Plateau.N >= traitLeast {
		return
	}
	if m.Shows > 0 {
		if k.Shows == 0 {
			k.Shows, k.Gains = m.Shows, m.Gains
		}
		k.Shows += showsSmooth * (m.Shows - k.Shows)
		k.Gains += showsSmooth * (m.Gains - k.Gains)
	}
	k.KH = kh
	k.Plateau.move(by)
	k.Rate.move(-by)
	k.Duty.move(by)
	k.Plateau.take(m.Plateau, m.Plateau-k.Plateau.Base)
	k.Rate.take(m.Rate, k.Rate.Base-m.Rate)
	if m.Duty != 0 {
		k.Duty.take(m.Duty, m.Duty-k.Duty.Base)
	}
}
