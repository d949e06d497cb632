package sim

import (
	"time"

	"lentic/collector/aquarium"
)

// VisitKind is what somebody comes for.
type VisitKind string

const (
	// Service: everything. CO2, heater and top-off off, filters off for 20
	// to 60 min and one of them cleaned, the electrode in its buffers and
	// calibrated two times out of three, glass cleaned, 30 to 50 % of the
	// water changed, plants cut, alkalinity restored.
	Service VisitKind = "service"
	// Quick: hands in the water, filters off for a few minutes, glass
	// cleaned, one time in three a calibration.
	Quick VisitKind = "quick"
	// Trim: plants are cut with the filters off.
	Trim VisitKind = "trim"
	// Bucket: somebody who means well pours water in.
	Bucket VisitKind = "bucket"
	// Cleaner: somebody needs a socket, and a filter is unplugged for a
	// while.
	Cleaner VisitKind = "cleaner"
)

// Visit is somebody at the tank.
type Visit struct {
	Kind  VisitKind
	At    aquarium.Instant
	Lasts time.Duration
	// Declared is whether lentic was told; the tank does not care.
	Declared bool
}

// Until is when the visitor has gone.
func (v Visit) Until() aquarium.Instant { return v.At.Add(v.Lasts) }

// Plan is what the visit does to a tank of that seed, for Tank.With.
func (v Visit) Plan(tank aquarium.Tank, site aquarium.SiteID, seed uint64) []Planned {
	return v.deeds(tank, func(name string) stream { return newStream(seed, string(site), string(tank.ID), name) })
}

// deeds is what the visit is made of, each in a share of its time.
func (v Visit) deeds(tank aquarium.Tank, own func(string) stream) []Planned {
	d := deeds{visit: v, tank: tank, draw: own("visit " + v.At.String())}
	switch v.Kind {
	case Service:
		d.service()
	case Quick:
		d.add(Waves, 0.05, 0.7, 5)
		d.filtersOff(0.1, 3+6*d.draw.uniform(1))
		if d.draw.uniform(2) < 1.0/3 {
			d.calibrate(0.75)
		}
	case Trim:
		d.add(Waves, 0, 0.95, 4)
		d.filtersOff(0.05, 0.7*v.Lasts.Minutes())
		d.once(Trimmed, 0.8, 0.7)
	case Bucket:
		litres := 5 + 7*d.draw.uniform(1)
		d.add(Waves, 0, 1, 3)
		d.add(WaterPoured, 0.3, 0.8, litres/(0.5*v.Lasts.Hours()))
	case Cleaner:
		if fs := tank.Equipment.Filters; len(fs) > 0 {
			f := fs[int(d.draw.uniform(1)*float64(len(fs)))]
			d.ps = append(d.ps, Planned{Fault: FiltersOff, Equipment: f.ID, At: v.At, Until: v.Until()})
		}
	}
	return d.ps
}

// deeds puts a visit together.
type deeds struct {
	visit Visit
	tank  aquarium.Tank
	draw  stream
	ps    []Planned
}

func (d *deeds) at(share float64) aquarium.Instant {
	return d.visit.At.Add(time.Duration(share * float64(d.visit.Lasts))).Floor(time.Second)
}

func (d *deeds) add(f Fault, from, to, strength float64) {
	d.ps = append(d.ps, Planned{Fault: f, At: d.at(from), Until: d.at(to), Strength: strength})
}

func (d *deeds) once(f Fault, at, strength float64) {
	d.ps = append(d.ps, Planned{Fault: f, At: d.at(at), Strength: strength})
}

func (d *deeds) filtersOff(from, minutes float64) {
	to := min(0.95, from+minutes/d.visit.Lasts.Minutes())
	d.add(FiltersOff, from, to, 0)
}

func (d *deeds) service() {
	v := d.visit
	d.add(CO2Off, 0.02, 0.97, 0)
	d.add(HeaterOff, 0.03, 0.93, 0)
	d.add(TopOffOff, 0.03, 0.93, 0)
	d.add(Waves, 0.06, 0.35, 6)
	d.filtersOff(0.08, max(20, min(60, 0.8*v.Lasts.Minutes())*(0.6+0.4*d.draw.uniform(1))))
	if d.draw.uniform(2) < 2.0/3 {
		d.calibrate(0.1)
	}
	d.once(Trimmed, 0.3, 0.75+0.2*d.draw.uniform(3))
	litres := (0.3 + 0.2*d.draw.uniform(4)) * d.tank.Size.NetL()
	rate := litres / (0.18 * v.Lasts.Hours())
	d.add(WaterOut, 0.4, 0.58, rate)
	d.add(WaterIn, 0.62, 0.9, rate)
	d.once(KHRestored, 0.9, 0)
	d.once(CylinderExchanged, 0.05, 0)
	if fs := d.tank.Equipment.Filters; len(fs) > 0 {
		f := fs[int(d.draw.uniform(5)*float64(len(fs)))]
		d.ps = append(d.ps, Planned{Fault: FilterCleaned, Equipment: f.ID, At: d.at(0.3)})
	}
}

// calibrate takes the electrode out, through two buffers, and back; a quarter
// of the visit.
func (d *deeds) calibrate(from float64) {
	d.add(ProbeInAir, from, from+0.02, 0)
	d.add(ProbeInBuffer, from+0.02, from+0.11, 7)
	d.add(ProbeInAir, from+0.11, from+0.13, 0)
	d.add(ProbeInBuffer, from+0.13, from+0.22, 4)
	d.add(ProbeInAir, from+0.22, from+0.24, 0)
	d.once(Calibrated, from+0.215, 0.03*(2*d.draw.uniform(7)-1))
}

// Habit is how often who comes. Zero of one means never.
type Habit struct {
	ServiceDays float64 // from one Service to the next, give or take a fifth
	Declared    float64 // other declared visits a month
	Undeclared  float64 // undeclared ones a month
	// Services is the share of undeclared visits that are whole services:
	// the rest is divided among the others.
	Services float64
}

// Visits plans who comes between from and to: in the daytime, nobody at the
// same time as somebody else. The same seed and habit give the same visits.
func (h Habit) Visits(seed uint64, loc *time.Location, from, to aquarium.Instant) []Visit {
	draw := newStream(seed, "visits")
	var vs []Visit
	n := int64(0)
	next := func() float64 { n++; return draw.uniform(n) }
	add := func(day float64, k VisitKind, shortest, longest float64, declared bool) {
		at := from.Add(time.Duration(day * 24 * float64(time.Hour)))
		y, m, d := at.In(loc).Date()
		at = aquarium.At(time.Date(y, m, d, 9, 0, 0, 0, loc)).Add(time.Duration(next() * 8 * float64(time.Hour))).Floor(time.Minute)
		v := Visit{Kind: k, At: at, Lasts: time.Duration(shortest+(longest-shortest)*next()) * time.Minute, Declared: declared}
		if v.At < from || v.Until() > to {
			return
		}
		for _, o := range vs { // visits are known apart by hours between them
			if v.At < o.Until().Add(apart) && o.At < v.Until().Add(apart) {
				return
			}
		}
		vs = append(vs, v)
	}
	days := to.Sub(from).Hours() / 24
	if h.ServiceDays > 0 {
		for day := h.ServiceDays * next(); day < days; day += h.ServiceDays * (0.8 + 0.4*next()) {
			add(day, Service, 60, 150, true)
		}
	}
	for range count(h.Declared*days/30, next()) {
		k := [...]VisitKind{Quick, Quick, Trim}[int(3*next())]
		add(days*next(), k, 25, 60, true)
	}
	for range count(h.Undeclared*days/30, next()) {
		k, shortest, longest := Service, 60.0, 150.0
		if next() >= h.Services {
			k = [...]VisitKind{Quick, Trim, Bucket, Cleaner}[int(4*next())]
			shortest, longest = 20, 50
			if k == Bucket {
				shortest, longest = 3, 8
			}
		}
		add(days*next(), k, shortest, longest, false)
	}
	return vs
}

// apart is how long nobody comes after somebody has.
const apart = 5 * time.Hour

// count is a mean as a whole number: the fraction is its chance.
func count(mean, chance float64) int {
	n := int(mean)
	if chance < mean-float64(n) {
		n++
	}
	return n
}
