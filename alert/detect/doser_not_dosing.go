package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A doser doses each day, often once; that it has not for a day and a bit is
// told, since a day without is made up by the next dose and two are not. It must
// have dosed on most of the last days, so that one in a cupboard says nothing.
const (
	doseless  = 25 * time.Hour
	dosedDays = 3 // of the last seven at the least, and all of them but one
	// An hour with fewer of its readings has a gap that a dose may lie in, if it is near
	// where a day after the last one is: what doses, doses by the clock.
	wholeHour = 0.93
	doseNear  = 30 * time.Minute
)

// doserNotDosing: a pump that doses daily has not.
func doserNotDosing(v *view, t *tank) {
	if v.now.Floor(clogLook) != v.now || v.w.mains.lost || v.w.mains.back != 0 && v.now.Sub(v.w.mains.back) < doseless || t.darkWithin(v.now, doseless) {
		return // what a power cut has kept it from is no fault of its
	}
	for _, d := range t.config.Equipment.Dosers {
		s := t.sensor(d.Switch)
		if !s.current(v.now) || d.MLPerDay <= 0 {
			continue
		}
		dosed, days := 0, last(t.learned.Sensors[d.Switch].Days, 7)
		for _, x := range days {
			if x.Turns > 0 {
				dosed++
			}
		}
		quiet, known := t.undosed(v, s)
		if !known {
			continue // until the gap lies further back
		}
		v.find(aquarium.DoserNotDosing, t.config.ID, finding{
			equipment: d.ID, true: quiet >= doseless && (dosed >= max(dosedDays, len(days)-1) || v.stands(aquarium.DoserNotDosing, t.config.ID, d.ID)),
			prove: func() aquarium.Evidence {
				return aquarium.Evidence{Sensor: d.Switch, Excluded: t.powered(v),
					Facts: []aquarium.Fact{lasting(FactFor, quiet), num(FactDosed, float64(dosed), "")}}
			},
		})
	}
}

// undosed is how long a doser's switch has not been on, as far as hours tell:
// false where it was not heard when it may have been.
func (t *tank) undosed(v *view, s *series) (time.Duration, bool) {
	if s.on {
		return 0, true
	}
	hour := v.now.Floor(time.Hour)
	for i := 0; i <= int(doseless/time.Hour); i++ {
		at := hour.Add(-time.Duration(i) * time.Hour)
		x := t.hourOf(s, at)
		if i > 0 && s.dosesNear(at) && !t.heardWhole(s, at) && !t.heardDose(s, at, x.N) {
			return 0, false
		}
		if x.Turns > 0 || x.Mean > 0 {
			return time.Duration(i) * time.Hour, true
		}
	}
	return doseless + v.now.Sub(hour), true
}

// heardWhole reports whether the readings of that hour have no gap that a dose may lie in. A
// switch that tells its changes only is as whole as the tank's other sensors: what a gap
// swallowed it never tells again.
func (t *tank) heardWhole(s *series, hour aquarium.Instant) bool {
	if !s.config.OnChange {
		return float64(t.hourOf(s, hour).N) >= wholeHour*s.perHour()
	}
	dose := t.lastDose(s)
	others := false
	for _, o := range t.order {
		if i := o.interval(); i > 0 && !o.config.OnChange {
			others = true
			if missing := time.Hour - time.Duration(t.hourOf(o, hour).N)*i; missing < max(dose, 2*i) {
				return true
			}
		}
	}
	return !others
}

// lastDose is how long the last dose took, as far as its hour tells.
func (t *tank) lastDose(s *series) time.Duration {
	return time.Duration(t.hourOf(s, s.wasOn.Floor(time.Hour)).Mean * float64(time.Hour))
}

// dosesNear reports whether the hour from then on is one in which a doser is due, as far
// as its last dose tells.
func (s *series) dosesNear(hour aquarium.Instant) bool {
	due := s.wasOn.Add(day)
	return s.wasOn == 0 || due >= hour.Add(-doseNear) && due <= hour.Add(time.Hour+doseNear)
}

// heardDose reports whether all that is missing of that hour is the switch's last gap, and
// the middle of a dose as long as the last one, a day after it, does not lie in it.
func (t *tank) heardDose(s *series, hour aquarium.Instant, n int) bool {
	g := s.gap
	if g.from < hour || g.to > hour.Add(time.Hour) || s.wasOn == 0 || float64(n)+g.to.Sub(g.from).Hours()*s.perHour() < wholeHour*s.perHour() {
		return false
	}
	middle := s.wasOn.Add(day - t.lastDose(s)/2)
	return middle <= g.from || middle >= g.to
}

// perHour is how many readings a whole hour has, 0 while that is not known.
func (s *series) perHour() float64 {
	if i := s.interval(); i > 0 {
		return float64(time.Hour) / float64(i)
	}
	return 0
}

func blindDosers(t *aquarium.Tank) string {
	if len(t.Equipment.Dosers) == 0 {
		return "no dosers under equipment"
	}
	for _, d := range t.Equipment.Dosers {
		switch {
		case t.Sensor(d.Switch) == nil:
			return "no switch on doser " + string(d.ID)
		case d.MLPerDay <= 0:
			return "no ml_per_day on doser " + string(d.ID)
		}
	}
	return ""
}
