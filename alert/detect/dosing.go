package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// A tank that doses by pH begins each day with a morning: the pH that the night
// came to, and how fast it comes down once the valve opens. What the valve does
// for the rest of the day holds it there. All three are the tank's own, and say
// whether gas comes and whether the probe still says what it said. Common
// practice, no source.
const (
	night         = 4 * time.Hour    // so long nothing was asked for before a morning
	plateauOver   = 30 * time.Minute // before it
	plateauLeast  = 6                // readings
	rampMixing    = 8 * time.Minute  // until what the valve lets in shows
	rampMost      = 80 * time.Minute // the readings that are kept reach no further
	rampLeast     = 10 * time.Minute
	rampFall      = 0.1            // pH, or nothing is told from it
	morningsApart = 36 * time.Hour // at the most, of days that follow each other
	// A visit, a power cut or a probe in doubt moves the pH for half a day.
	disturbedFor = 10 * time.Hour
	// The valve's share is counted from one opening to another.
	cyclesLeast = 3
	cyclesOver  = 2 * time.Hour
	// pause is how long dosing may rest without being asked for anew: a valve
	// that is switched off for a feeding.
	pause = 15 * time.Minute
	// pulse is how long a valve is shut at the most by a controller that lets gas in by
	// pulses and asks for it all the while.
	pulse = 5 * time.Minute
	// So long after the asking has ended a fall of so much is still an answer to it:
	// twice what it is held against while it goes on.
	answersLate = time.Hour
	answerFall  = 2 * vainFall
)

// dosing follows what is asked of the gas, from minute to minute.
type dosing struct {
	asked     aquarium.Instant // since when; 0: it is not asked for
	last      aquarium.Instant // when it last was; until that is known, when the looking began
	from      float64          // the pH when it began to be
	vain      time.Duration    // for how long it was within the day before, and nothing came
	disturbed aquarium.Instant // when the tank was last not left to itself
	ramp      aquarium.Instant // when the morning's began; 0: none goes on
	plateau   float64          // before it
	duty      duty             // of the present day, once its first opening was seen
	counts    bool             // it is
	former    float64          // of the day before, as its logarithm; 0: not known
	opened    float64          // the same where only a cycle or two were seen
	morning   morning          // the last whole one
	cycling   cycling
	sweeps    sweeps
}

// morning is what a day's dosing begins with.
type morning struct {
	At      aquarium.Instant // when its ramp was over; 0: none was seen
	Plateau float64          // pH
	// Rate is how fast gas comes, as the logarithm of what 10^-pH gains in an
	// hour: at a given alkalinity that goes with CO2.
	Rate float64
	Duty float64 // logarithm of the valve's share of the day before; 0: not known
	// Before is the Rate of the morning before; 0: not known.
	Before float64
	// Shows and Gains are how far an error of the probe shows in Plateau and in Rate; 0:
	// not known.
	Shows, Gains float64
}

// duty is how much of the time a valve is open while it holds the pH.
type duty struct {
	first, last aquarium.Instant // its openings
	cycles      int
	open        time.Duration    // between them
	running     time.Duration    // since the first
	since       aquarium.Instant // it is open; 0: shut
}

// follow takes a valve's state in.
func (d *duty) follow(on bool, since aquarium.Instant) {
	if d.since != 0 && (!on || since != d.since) {
		d.running += since.Sub(d.since)
		d.since = 0
	}
	if !on || since == d.since {
		return
	}
	if d.first == 0 {
		d.first, d.running = since, 0
	} else {
		d.last, d.open = since, d.running
		d.cycles++
	}
	d.since = since
}

// share is its logarithm, 0 where too little was seen.
func (d *duty) share() float64 { return d.shareOf(cyclesLeast) }

// shareOf is the same of so many cycles at the least: of pulses that are shorter than what
// is looked at, by the minute, there are always too few.
func (d *duty) shareOf(least int) float64 {
	over := d.last.Sub(d.first)
	if d.cycles < least || over < cyclesOver || over < time.Duration(d.cycles)*pulse || d.open <= 0 {
		return 0
	}
	return math.Log10(float64(d.open) / float64(over))
}

// notice brings up to the minute what is followed by it.
func (t *tank) notice(v *view) {
	if v.now.Floor(time.Minute) != v.now {
		return
	}
	t.visited = v.visited(t.config.ID) || t.signs.areVisit()
	for _, s := range t.order {
		if stillable(s.config) {
			s.still.follow(s, v.now)
		}
	}
	t.doubtPH(v)
	t.stray = t.strays()
	if t.dosed() {
		t.followDosing(v)
		if s := t.sensor(t.config.Equipment.CO2.PH); s != nil {
			t.doubtZero(v, s)
			t.doubtVain(v)
			t.followTurning(v, s)
			t.kept = t.keepsGas(v, s)
		}
	}
}

// asks reports whether dosing is called for, since when, and whether that is
// known: the valve is open, or was since the last look, for a pulse is over in
// seconds; or, where no switch tells, the pH is above its band within the hours.
func (t *tank) asks(v *view, s *series) (on bool, since aquarium.Instant, known bool) {
	part := t.config.Equipment.CO2
	if on, known := t.on(part.Valve, v.now); known {
		x := t.sensor(part.Valve)
		return on || x.wasOn != 0 && v.now.Sub(x.wasOn) < time.Minute, x.since, true
	}
	if x := t.sensor(part.Valve); x != nil && len(x.points) > 0 {
		return false, 0, false // it has fallen silent
	}
	within := part.Hours == nil || part.Hours.Contains(t.clock)
	return within && s.value() > part.Target+part.Band, v.now, true
}

func (t *tank) followDosing(v *view) {
	d, s := &t.dosing, t.sensor(t.config.Equipment.CO2.PH)
	if s == nil || !s.current(v.now) {
		return
	}
	if t.visited || v.w.mains.lost || t.dark(v.w, v.now) || t.doubted() || t.emptied() {
		d.asked, d.ramp, d.duty, d.disturbed, d.vain, d.sweeps.from = 0, 0, duty{}, v.now, 0, 0
		return
	}
	t.followCycles(v, s)
	on, since, known := t.asks(v, s)
	if !known {
		d.asked, d.ramp = 0, 0
		return
	}
	t.followSweeps(v, s)
	switch {
	case on && d.asked == 0:
		d.begin(s, v.now, max(since, d.disturbed), t.sharing(), t.opening())
	case !on && d.asked != 0 && v.now.Sub(d.last) >= pause:
		d.end(s)
	case !on && d.vain != 0 && d.asked == 0 && v.now.Sub(d.last) <= answersLate:
		d.answered(s)
	}
	if on || d.last == 0 {
		d.last = v.now
	}
	if d.ramp != 0 {
		d.ramped(t, s, v.now)
	} else if open, ok := t.on(t.config.Equipment.CO2.Valve, v.now); ok && d.counts {
		d.duty.follow(open, since)
	}
}

// sharing is the valve's share of the day that goes on; of one before the looking
// began as it was learned.
func (t *tank) sharing() float64 {
	if d := &t.dosing; d.counts || t.learned.Drift == nil {
		return d.duty.share()
	}
	return t.learned.Drift.Share
}

// opening is the same where only a cycle or two were seen.
func (t *tank) opening() float64 {
	if d := &t.dosing; d.counts {
		return d.duty.shareOf(1)
	}
	return t.learned.Vigour.Share
}

// end is when dosing is asked for no more: in vain, if the pH has not come down since.
func (d *dosing) end(s *series) {
	if then, ok := s.at(d.last); ok {
		asked := d.last.Sub(d.asked)
		switch fall := d.from - then; {
		case fall >= vainFall:
			d.vain = 0
		case asked >= vainBefore:
			d.vain = min(vainFor, d.vain+asked)
		}
	}
	d.asked = 0
}

// answered forgets what was asked for in vain once the pH comes down after all: near its
// target nothing but gas makes it, and an electrode that follows late shows it only once
// the valve is shut.
func (d *dosing) answered(s *series) {
	if then, ok := s.at(d.last); ok && then-s.value() >= answerFall {
		d.vain = 0
	}
}

// begin is when dosing is asked for; share and opened are the valve's until then.
func (d *dosing) begin(s *series, at, since aquarium.Instant, share, opened float64) {
	d.asked, d.from = since, s.value()
	if since.Sub(d.last) > day {
		d.vain = 0
	}
	if d.last == 0 || since.Sub(d.last) < night {
		return
	}
	d.former, d.opened, d.duty, d.counts = share, opened, duty{}, true
	if since.Sub(d.disturbed) < disturbedFor || at.Sub(since) > rampMixing {
		return
	}
	var m statistic.Moments
	for _, p := range s.held(since, plateauOver) {
		m.Take(p.v)
	}
	if m.N >= plateauLeast {
		d.ramp, d.plateau = since, m.Mean
	}
}

// ramped looks whether the morning is over, and what it came to while gas was let in.
func (d *dosing) ramped(t *tank, s *series, at aquarium.Instant) {
	if at.Sub(d.last) < pulse && at.Sub(d.ramp) < rampMost && s.value() > t.config.Equipment.CO2.Target {
		return
	}
	took := d.last.Sub(d.ramp)
	begun := d.ramp
	d.ramp = 0
	var hours, acid []float64
	var ramp statistic.Moments
	for _, p := range s.held(d.last, took-rampMixing) {
		hours, acid = append(hours, p.at.Sub(begun).Hours()), append(acid, math.Pow(10, -p.v))
		ramp.Take(acid[len(acid)-1])
	}
	r, ok := statistic.Regress(hours, acid)
	if ok && took >= rampLeast+rampMixing && d.plateau-s.value() >= rampFall && r.Slope > 0 {
		before := 0.0
		if at.Sub(d.morning.At) < morningsApart {
			before = d.morning.Rate
		}
		d.morning = morning{At: at, Plateau: d.plateau, Rate: math.Log10(r.Slope), Duty: d.former, Before: before}
		if night := t.outgas(s, begun, d.plateau); night.rate > 0 {
			d.morning.Shows, d.morning.Gains = night.shows, night.gains(ramp.Mean, r.Slope)
		}
	}
}
