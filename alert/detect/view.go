package detect

import (
	"slices"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// view is a site at one tick, as its causes see it.
type view struct {
	w    *Watch
	now  aquarium.Instant
	rank int   // of the cause that is looking
	tank *tank // that it is looking at; nil: the site
	// judging: the causes look, and what is followed from tick to tick stays as it is.
	judging bool
	isDeaf  bool
	from    aquarium.Instant // since when lentic has listened
	visits  []aquarium.Entry // that go on, or have ended within Memory
	source  [1]*series       // room for sources
}

func (w *Watch) look(at aquarium.Instant) *view {
	v := &w.view
	*v = view{w: w, now: at, visits: v.visits[:0]}
	v.listened()
	v.visitors()
	for _, t := range w.tanks {
		t.refresh(w, at)
	}
	w.mains.follow(v)
	for _, t := range w.tanks {
		v.tank = t
		t.pauses.follow(v, t)
		t.signs.follow(v, t)
		t.followVessel(v)
		t.notice(v)
		t.learn(v)
		t.followCompany(v)
	}
	v.tank = nil
	return v
}

// find tells the watch what a cause found at a tank; the zero TankID means the
// site.
func (v *view) find(c aquarium.Cause, tank aquarium.TankID, f finding) {
	s := v.state(c, tank, f.equipment)
	if s == nil {
		if !f.true {
			return // nothing is and nothing was
		}
		// The key is copied, for of a finding nothing may be kept: it would
		// then be memory of its own, at every tick.
		e := aquarium.EquipmentKey(strings.Clone(string(f.equipment)))
		s = v.w.state(aquarium.Identity{Site: v.w.site.ID, Tank: tank, Cause: c, Equipment: e})
	}
	s.weigh(v.now, f)
}

// state is what is known of an identity at a tank, or at the site where the
// TankID is zero; nil where it was never met. Nearly always the cause that is
// looking asks for its own.
func (v *view) state(c aquarium.Cause, tank aquarium.TankID, e aquarium.EquipmentKey) *state {
	w := v.w
	if len(w.states) == 0 {
		return nil
	}
	states := w.own
	if t := v.tank; t != nil && t.config.ID == tank {
		states = t.states
	} else if tank != "" {
		states = nil
	}
	rank := v.rank
	if w.causes[rank].name != c {
		rank = w.ranks[c]
	}
	if states == nil || w.causes[rank].name != c {
		return w.states[aquarium.Identity{Site: w.site.ID, Tank: tank, Cause: c, Equipment: e}]
	}
	for _, s := range states[rank] {
		if s.id.Equipment == e {
			return s
		}
	}
	return nil
}

// unheard reports whether a cause has never been true of a piece of equipment: to say
// that it is not says nothing then.
func (v *view) unheard(c aquarium.Cause, tank aquarium.TankID, e aquarium.EquipmentKey) bool {
	return v.state(c, tank, e) == nil
}

// stands reports whether an identity stands: its deadband is the wider one
// then.
func (v *view) stands(c aquarium.Cause, tank aquarium.TankID, e aquarium.EquipmentKey) bool {
	s := v.state(c, tank, e)
	return s != nil && s.stands
}

// began reports whether a cause was true at the last tick, and has yet to be so for long
// enough.
func (v *view) began(c aquarium.Cause, tank aquarium.TankID, e aquarium.EquipmentKey) bool {
	s := v.state(c, tank, e)
	return s != nil && !s.stands && s.trueFrom != 0
}

// tank is one tank and what is remembered of it.
type tank struct {
	config  *aquarium.Tank
	sensors map[aquarium.SensorID]*series
	index   index // the same
	order   []*series
	probes  []*series             // of those, whom a hand would make leap
	level   *series               // the water's; nil where nothing tells it
	warmth  *series               // likewise, its temperature
	pH      *series               // likewise
	pHOf    aquarium.EquipmentKey // whose pH that is: the CO2's, or nobody's
	flows   []*series             // of the filters, in their order; nil where nothing tells it
	parts   parts
	screen  *screen.Screen // of the same sensors in the same order
	// screened is from when on it screens what the watch is told.
	screened aquarium.Instant
	course
	sums   estimates
	silent aquarium.Instant // before then none of its sensors can be told to be; 0: not known
	states [][]*state       // by the causes' order

	// What gasOf has found since the causes have begun to look at the tank.
	gas              gas
	gassed, gasKnown bool

	weighed [2]weighed

	refillMemo, calledMemo, fullMemo, lowMemo, highMemo, apartMemo, airMemo, shareMemo, lateMemo, shortMemo, longMemo memo
}

// parts are the series that equipment is asked for again and again; nil where nothing
// tells.
type parts struct {
	mains, wet     *series // the tank's
	pump, held     *series // the top-off's, and the level it holds
	stored, refill *series // the reservoir's
	acid, valve    *series // the CO2's
	heated, heater *series // the heater's
	cooled, cooler *series // the cooling's
}

func (t *tank) findParts() {
	e := &t.config.Equipment
	t.parts.pump, t.parts.held = t.sensor(t.topOff().Pump), t.sensor(t.topOff().Level)
	if p := e.Power; p != nil {
		t.parts.mains = t.sensor(p.Mains)
	}
	if p := e.Floor; p != nil {
		t.parts.wet = t.sensor(p.Wet)
	}
	if p := e.CO2; p != nil {
		t.parts.acid, t.parts.valve = t.sensor(p.PH), t.sensor(p.Valve)
	}
	if p := e.Heater; p != nil {
		t.parts.heated, t.parts.heater = t.sensor(p.Temperature), t.sensor(p.Switch)
	}
	if p := e.Cooling; p != nil {
		t.parts.cooled, t.parts.cooler = t.sensor(p.Temperature), t.sensor(p.Switch)
	}
	if p := e.Reservoir; p != nil {
		t.parts.stored, t.parts.refill = t.sensor(p.Volume), t.sensor(p.Refill)
	}
}

// course is what has been followed from tick to tick.
type course struct {
	learned      *Learned         // never nil, and never changed
	screenDay    aquarium.Instant // the day whose screenKept is kept
	screenKept   *screen.State    // not changed; nil: none
	kh           float64          // alkalinity in force, dKH; 0: not known
	clock        aquarium.Clock
	pump         pumpRun
	pauses       pauses
	signs        signs
	vessel       vessel
	shutAt       aquarium.Instant // when the CO2 valve was commanded shut, or its hours ended
	haveShut     bool
	shutFrom     float64 // the pH then; 0: not known
	visited      bool    // declared or seen, as of the last whole minute
	doubt        doubt
	stray        float64 // pH, by which a current moves its electrode, as of the last whole minute
	calibrations calibrations
	dosing       dosing
	turning      turning
	kept         bool // the gas in its water, as of the last whole minute, though the valve is shut
	company      company
}

// sloped is a slope that was worked out.
type sloped struct {
	window  time.Duration
	at      aquarium.Instant
	perHour float64
	ok      bool
}

func newTank(site aquarium.SiteID, c *aquarium.Tank) *tank {
	t := &tank{config: c, sensors: map[aquarium.SensorID]*series{}}
	t.learned = &Learned{Tank: c.ID}
	t.screen = screen.New(site, *c)
	for _, s := range c.Sensors {
		x := &series{tank: t, key: aquarium.SensorKey{Site: site, Tank: c.ID, Sensor: s.ID}, config: s, far: outOfHand[s.Quantity]}
		x.sieve, x.mesh = t.screen, t.screen.Index(s.ID)
		if r := c.Equipment.Room; r != nil && r.Temperature == s.ID {
			x.far = 0
		}
		if x.far > 0 {
			t.probes = append(t.probes, x)
		}
		x.span, x.spanned = t.spanOf(x)
		t.sensors[s.ID] = x
		t.order = append(t.order, x)
	}
	t.index = newIndex(t.order)
	if t.level = t.levelSeries(); t.level != nil {
		t.level.waters = true
	}
	t.warmth = t.waterSeries()
	t.pH, t.pHOf = t.phSeries()
	t.findParts()
	for _, f := range c.Equipment.Filters {
		t.flows = append(t.flows, t.sensor(f.Flow))
	}
	return t
}

// sensor is the series of a sensor, nil for one that the tank does not have.
func (t *tank) sensor(id aquarium.SensorID) *series { return t.index.find(id) }

// refresh brings what is common to several causes up to the tick.
func (t *tank) refresh(w *Watch, at aquarium.Instant) {
	if at.Floor(time.Minute) == at || t.clock == 0 && t.kh == 0 {
		t.clock = aquarium.ClockOf(at.In(w.site.Timezone))
		t.kh = t.config.AlkalinityDKH
		for _, e := range w.noted(aquarium.HandTest) {
			if e.At <= at && e.Concerns(aquarium.TankKey{Site: w.site.ID, Tank: t.config.ID}) {
				t.kh = e.KH
			}
		}
	}
	t.followValve(at)
	t.pump.follow(t, at)
}

// drop is the slope of a sensor over the window where it is lower now than at
// the window's beginning, by at least that; most of the time it is not, and no
// slope need be worked out.
func (t *tank) drop(s *series, at aquarium.Instant, window time.Duration, least float64) (float64, bool) {
	ps := s.window(at, window)
	if s.config.OnChange {
		if v, ok := s.at(at.Add(-window)); ok {
			ps = []point{{at.Add(-window), v}}
		}
	}
	if len(ps) == 0 || ps[0].v-s.value() < least {
		return 0, false
	}
	return t.trend(s, at, window)
}

// trend is the slope of a sensor over the window before the last whole minute:
// that is often enough for what takes ten, and the same whoever asks when.
func (t *tank) trend(s *series, at aquarium.Instant, window time.Duration) (float64, bool) {
	at = at.Floor(time.Minute)
	i := slices.IndexFunc(s.slopes, func(have sloped) bool { return have.window == window })
	if i < 0 {
		i = len(s.slopes)
		s.slopes = append(s.slopes, sloped{window: window})
	}
	have := &s.slopes[i]
	if have.at != at {
		have.at = at
		have.perHour, have.ok = slope(s.held(at, window), window)
	}
	return have.perHour, have.ok
}

// sameHour is the hour of some days ago that was at this time of day by the site's clocks,
// which is what people and their timers live by.
func (v *view) sameHour(ago int) aquarium.Instant {
	now := v.now.In(v.w.site.Timezone)
	return aquarium.At(now.AddDate(0, 0, -ago)).Floor(time.Hour)
}

// on reports whether a switch is on, and whether that is known at all.
func (t *tank) on(id aquarium.SensorID, at aquarium.Instant) (on, known bool) {
	return t.sensor(id).isOn(at)
}

// isOn is the same of a series, nil of none.
func (s *series) isOn(at aquarium.Instant) (on, known bool) {
	if !s.current(at) {
		return false, false
	}
	return s.on, true
}

// perHour is the trend that is told of a pH, nil where there is none.
func (t *tank) perHour(s *series, at aquarium.Instant) *float64 {
	if p, ok := t.trend(s, at, fallWindow); ok {
		return of(p)
	}
	return nil
}

// of is a pointer to v, for the optional numbers of the evidence.
func of(v float64) *float64 { return &v }
