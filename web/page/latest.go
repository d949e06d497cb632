package page

import (
	"time"

	"lentic/collector/aquarium"
)

// patience is how long a sensor of unknown interval may be quiet before its
// value is dated and no longer live.
const patience = 15 * time.Minute

// old reports whether v must be dated: three of its intervals have passed.
func (v Latest) old(now aquarium.Instant) bool {
	wait := 3 * v.Every
	if v.Every <= 0 {
		wait = patience
	}
	return v.At != 0 && now.Sub(v.At) > wait
}

// live reports whether v may be spoken of as what is.
func (v Latest) live(now aquarium.Instant) bool { return v.At != 0 && !v.old(now) }

// value finds the newest sample of a sensor.
func value(ls []Latest, id aquarium.SensorID) (Latest, bool) {
	for _, v := range ls {
		if v.Sensor.ID == id && v.At != 0 {
			return v, true
		}
	}
	return Latest{}, false
}

// Figure is a reading as the page shows it.
type Figure struct {
	Name  string
	Value string // with its unit; empty: never heard
	Old   string // when it is of; empty: live
	Poor  string // that it does not count, why and since when; empty: it counts
}

// figure is how v reads at now.
func figure(v Latest, r role, now aquarium.Instant, zone *time.Location) Figure {
	f := Figure{Name: upper(r.name)}
	if v.At == 0 {
		return f
	}
	if v.Sensor.Quantity == aquarium.Switch {
		f.Value = r.off
		if v.Value > 0 {
			f.Value = r.on
		}
	} else {
		f.Value = shapeOf(v.Sensor, r.mark).full(v.Value)
	}
	if v.old(now) {
		f.Old = clock(v.At, now, zone)
	}
	f.Poor = v.uncounted(now, zone)
	return f
}

// four are the readings that matter on rounds: pH, temperature, level, flow.
// Of several filters the one that gives the least of what it is rated for.
func four(v *TankView, now aquarium.Instant) []Figure {
	t, rs := v.Tank, roles(v.Tank)
	var fs []Figure
	for _, st := range Plan(t, false) {
		id := st.Lines[0].Sensor
		s := t.Sensor(id)
		switch s.Quantity {
		case aquarium.PH, aquarium.Temperature:
		case aquarium.Level:
			if !rs[id].mark {
				continue
			}
		case aquarium.Flow:
			id = weakest(v)
		default:
			continue
		}
		l, ok := value(v.Latest, id)
		if !ok {
			l = Latest{Sensor: *t.Sensor(id)}
		}
		fs = append(fs, figure(l, rs[id], now, v.Site.Timezone))
		if len(fs) == 4 {
			break
		}
	}
	return fs
}

func weakest(v *TankView) aquarium.SensorID {
	var id aquarium.SensorID
	least := 0.0
	for _, f := range v.Tank.Equipment.Filters {
		l, ok := value(v.Latest, f.Flow)
		share := l.Value
		if f.RatedLH > 0 {
			share /= f.RatedLH
		}
		if v.Tank.Sensor(f.Flow) != nil && (id == "" || ok && share < least) {
			id, least = f.Flow, share
		}
	}
	if id == "" {
		for _, s := range v.Tank.Sensors {
			if s.Quantity == aquarium.Flow {
				return s.ID
			}
		}
	}
	return id
}
