package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// view is a site at one tick, as its causes see it.
type view struct {
	w   *Watch
	now aquarium.Instant
}

func (w *Watch) look(at aquarium.Instant) *view {
	v := &view{w: w, now: at}
	for _, t := range w.tanks {
		t.refresh(w, at)
	}
	w.mains.follow(v)
	for _, t := range w.tanks {
		t.learn(v)
	}
	return v
}

// find tells the watch what a cause found at a tank; the zero TankID means the
// site.
func (v *view) find(c aquarium.Cause, tank aquarium.TankID, f finding) {
	id := aquarium.Identity{Site: v.w.site.ID, Tank: tank, Cause: c, Equipment: f.equipment}
	s := v.w.states[id]
	if s == nil {
		if !f.true {
			return // nothing is and nothing was
		}
		s = v.w.state(id)
	}
	s.weigh(v.now, f)
}

// stands reports whether an identity stands: its deadband is the wider one
// then.
func (v *view) stands(c aquarium.Cause, tank aquarium.TankID, e aquarium.EquipmentKey) bool {
	if len(v.w.states) == 0 {
		return false
	}
	s := v.w.states[aquarium.Identity{Site: v.w.site.ID, Tank: tank, Cause: c, Equipment: e}]
	return s != nil && s.stands
}

// deaf reports whether lentic was not listening at the tick, and otherwise
// since when it has been: silence counts from there.
func (v *view) deaf() (now bool, since aquarium.Instant) {
	since = v.w.began
	for _, e := range v.w.journal {
		if e.Kind != aquarium.Deaf || e.At > v.now || e.Site != "" && e.Site != v.w.site.ID {
			continue
		}
		if e.Covers(v.now) {
			return true, v.now
		}
		since = max(since, e.Until)
	}
	return false, since
}

// visited reports whether somebody has declared to be working at the tank.
func (v *view) visited(tank aquarium.TankID) bool {
	for _, e := range v.w.journal {
		if e.Kind == aquarium.Visit && e.Concerns(aquarium.TankKey{Site: v.w.site.ID, Tank: tank}) && e.Covers(v.now) {
			return true
		}
	}
	return false
}

// tank is one tank and what is remembered of it.
type tank struct {
	config  *aquarium.Tank
	sensors map[aquarium.SensorID]*series
	order   []*series
	course
	slopes map[slopeKey]sloped // as far as worked out
	sum    estimate            // the last one
}

// course is what has been followed from tick to tick.
type course struct {
	learned  *Learned // never nil, and never changed
	kh       float64  // alkalinity in force, dKH; 0: not known
	clock    aquarium.Clock
	pump     pumpRun
	shutAt   aquarium.Instant // when the CO2 valve was commanded shut, or its hours ended
	haveShut bool
}

type slopeKey struct {
	sensor aquarium.SensorID
	window time.Duration
}

type sloped struct {
	at      aquarium.Instant
	perHour float64
	ok      bool
}

func newTank(site aquarium.SiteID, c *aquarium.Tank) *tank {
	t := &tank{config: c, sensors: map[aquarium.SensorID]*series{}, slopes: map[slopeKey]sloped{}}
	t.learned = &Learned{Tank: c.ID}
	for _, s := range c.Sensors {
		x := &series{key: aquarium.SensorKey{Site: site, Tank: c.ID, Sensor: s.ID}, config: s}
		t.sensors[s.ID] = x
		t.order = append(t.order, x)
	}
	return t
}

// refresh brings what is common to several causes up to the tick.
func (t *tank) refresh(w *Watch, at aquarium.Instant) {
	if at.Floor(time.Minute) == at || t.clock == 0 && t.kh == 0 {
		t.clock = aquarium.ClockOf(at.In(w.site.Timezone))
		t.kh = t.config.AlkalinityDKH
		var latest aquarium.Instant
		for _, e := range w.journal {
			if e.Kind == aquarium.HandTest && e.Concerns(aquarium.TankKey{Site: w.site.ID, Tank: t.config.ID}) && e.At <= at && e.At > latest {
				latest, t.kh = e.At, e.KH
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
	if len(ps) == 0 || ps[0].v-s.value() < least {
		return 0, false
	}
	return t.trend(s, at, window)
}

// trend is the slope of a sensor over the window before the last whole minute:
// that is often enough for what takes ten, and the same whoever asks when.
func (t *tank) trend(s *series, at aquarium.Instant, window time.Duration) (float64, bool) {
	at = at.Floor(time.Minute)
	k := slopeKey{s.config.ID, window}
	if have, ok := t.slopes[k]; ok && have.at == at {
		return have.perHour, have.ok
	}
	p, ok := slope(s.window(at, window), window)
	t.slopes[k] = sloped{at, p, ok}
	return p, ok
}

// on reports whether a switch is on, and whether that is known at all.
func (t *tank) on(id aquarium.SensorID, at aquarium.Instant) (on, known bool) {
	s := t.sensors[id]
	if id == "" || !s.current(at) {
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
