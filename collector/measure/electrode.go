package measure

import (
	"cmp"
	"fmt"
	"slices"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// millivolts is the unit in which a pH is nothing yet without a calibration.
const millivolts = aquarium.Unit("mV")

// Electrode is what the calibrations of a pH sensor say of it over time. The
// zero Electrode was never calibrated. It does not change and may be shared.
type Electrode struct{ mv, ph []turn }

// turn is one calibration: how the electrode came to it and how it went on.
type turn struct {
	at    aquarium.Instant
	came  water.Calibration
	known bool // what came is
	went  water.Calibration
	left  bool // what went was told, and is not only what was found
}

// ElectrodeOf reads a sensor's calibrations out of a journal, which may be in
// any order and hold entries of other kinds and places. A calibration that
// makes no curve is passed over: Curve refuses it before it is entered.
func ElectrodeOf(k aquarium.SensorKey, journal []aquarium.Entry) Electrode {
	var of []aquarium.Entry
	for _, e := range journal {
		if c := e.Calibration; e.Kind == aquarium.Calibrated && c != nil &&
			c.Sensor == k.Sensor && e.Site == k.Site && e.Tank == k.Tank {
			of = append(of, e)
		}
	}
	slices.SortFunc(of, func(a, b aquarium.Entry) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID)) })
	var x Electrode
	for _, e := range of {
		if t, err := x.turn(e.At, *e.Calibration); err == nil {
			*x.turns(e.Calibration.Unit) = append(*x.turns(e.Calibration.Unit), t)
		}
	}
	return x
}

// turns are those of readings in one unit.
func (x *Electrode) turns(u aquarium.Unit) *[]turn {
	if u == millivolts {
		return &x.mv
	}
	return &x.ph
}

// turn makes curves of a calibration that is newer than those of x.
func (x *Electrode) turn(at aquarium.Instant, c aquarium.Calibration) (turn, error) {
	t := turn{at: at}
	former, err := water.Ideal(water.Celsius(c.Temperature))
	if err != nil {
		return t, err
	}
	if before := *x.turns(c.Unit); len(before) > 0 {
		former = before[len(before)-1].went
	}
	curve, err := Curve(former, c)
	if err != nil {
		return t, err
	}
	t.went, t.left = curve, c.State != aquarium.AsFound
	if c.State == aquarium.AsLeft {
		return t, nil
	}
	t.came, t.known = curve, true
	if c.Cleaned != nil {
		t.came, err = curve.Fouled(CheckOf(c, former, true).Fouling())
	}
	return t, err
}

// Curve is the calibration curve of what was read in buffers; former is what
// one buffer alone moves. Bottles are taken by their label and temperature, and
// one that is not known for what it says. Anything that makes no curve is
// water.ErrRange.
func Curve(former water.Calibration, c aquarium.Calibration) (water.Calibration, error) {
	at := water.Celsius(c.Temperature)
	var standards []water.Standard
	for _, b := range c.Buffers {
		worth, err := Worth(b, at)
		if err != nil {
			return water.Calibration{}, err
		}
		s := water.Standard{Buffer: worth, Given: water.Millivolt(b.Reading)}
		if c.Unit != millivolts {
			if s, err = water.Read(worth, water.PH(b.Reading), at); err != nil {
				return water.Calibration{}, fmt.Errorf("reading in the buffer %.2f: %w", b.Label, err)
			}
		}
		standards = append(standards, s)
	}
	return water.Calibrate(former, at, standards...)
}

// Worth is the pH of a buffer at that temperature; water.ErrRange outside of 0
// to 50 Cel.
func Worth(b aquarium.Buffer, at water.Celsius) (water.PH, error) {
	if known, ok := water.Labelled(water.PH(b.Label)); ok {
		return known.At(at)
	}
	return water.PH(b.Label), nil
}

// CheckOf is the cleaning of a calibration and the buffer in which the sensor
// was the farthest off, both in pH; what is not told is 0. Readings in mV are
// taken by the former curve, and say nothing of the buffers where none is known.
func CheckOf(c aquarium.Calibration, former water.Calibration, known bool) water.Check {
	var k water.Check
	if w := c.Cleaned; w != nil {
		k.Before, k.After = water.PH(w.Before), water.PH(w.After)
		k.MeterBefore, k.MeterAfter = water.PH(w.MeterBefore), water.PH(w.MeterAfter)
	}
	at := water.Celsius(c.Temperature)
	for _, b := range c.Buffers {
		worth, err := Worth(b, at)
		read := water.PH(b.Reading)
		if c.Unit == millivolts {
			if !known {
				break
			}
			read, err = former.PH(water.Millivolt(b.Reading), at)
		}
		if err != nil {
			continue
		}
		off := worth - read
		if d := k.Drift(); k.Buffer == 0 || off*off > d*d {
			k.Buffer, k.Reading = worth, read
		}
	}
	return k
}

// InForce is the calibration that readings in mV at that time are derived with:
// the newest up to then that tells how the electrode went on. False: none.
func (x Electrode) InForce(at aquarium.Instant) (water.Calibration, bool) {
	for i := len(x.mv) - 1; i >= 0; i-- {
		if t := x.mv[i]; t.left && t.at <= at {
			return t.went, true
		}
	}
	return water.Calibration{}, false
}

// Turned reports whether another calibration of readings in mV came into force
// after from and before to.
func (x Electrode) Turned(from, to aquarium.Instant) bool {
	return slices.ContainsFunc(x.mv, func(t turn) bool { return t.left && t.at > from && t.at < to })
}

// Told is the curve that the newest calibration of readings in that unit, up to
// then, told. False: there is none.
func (x Electrode) Told(at aquarium.Instant, u aquarium.Unit) (water.Calibration, bool) {
	ts := *x.turns(u)
	for i := len(ts) - 1; i >= 0; i-- {
		if ts[i].at <= at {
			return ts[i].went, true
		}
	}
	return water.Calibration{}, false
}

// Drifted is the curve of readings in that unit at that time, with what the next
// calibration found spread back evenly to the last one. Before the first nobody
// knows when it began, and after the last not how it goes on: that one holds.
// False: there is none yet.
func (x Electrode) Drifted(at aquarium.Instant, u aquarium.Unit) (water.Calibration, bool) {
	ts := *x.turns(u)
	n, _ := slices.BinarySearchFunc(ts, at, func(t turn, at aquarium.Instant) int { return cmp.Compare(t.at, at) })
	for n < len(ts) && ts[n].at <= at { // several of the same time
		n++
	}
	switch {
	case n == 0:
		return water.Calibration{}, false
	case n == len(ts) || !ts[n].known:
		return ts[n-1].went, true
	}
	from, to := ts[n-1], ts[n]
	return from.went.Between(to.came, float64(at-from.at)/float64(to.at-from.at)), true
}

// Calibrated reports whether anything is known of the electrode.
func (x Electrode) Calibrated() bool { return len(x.mv)+len(x.ph) > 0 }
