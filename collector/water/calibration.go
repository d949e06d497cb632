package water

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Standard is what an electrode gave in a buffer.
type Standard struct {
	Buffer PH // what the buffer is worth at its temperature
	Given  Millivolt
}

// Read is the standard of an instrument that shows pH: the potential that an
// ideal electrode would have had to give for it. Of the instrument's own
// settings nothing is known, so that slope and offset are against those. Out of
// 0 to 50 Cel or pH 0 to 14 it is ErrRange.
func Read(buffer, reading PH, t Celsius) (Standard, error) {
	mv, err := IdealElectrode(reading, t)
	return Standard{buffer, mv}, err
}

// Calibration is the calibration curve of an electrode: from what it gives to
// what an ideal one would give. Between two buffers it is a straight line, and
// beyond the outermost it goes on as it was: so a third buffer mends its own
// side and cannot spoil the other one. Both coordinates are millivolts, in
// which the curve is the same at every temperature, as long as the electrode's
// lines for all temperatures meet at pH 7. The zero Calibration answers
// nothing; it does not change and may be shared.
type Calibration struct {
	at     Celsius // of its buffers
	knots  []knot  // two at least, both coordinates rising
	sloped bool    // from two buffers or more, now or earlier
}

// knot is a point of the curve.
type knot struct{ given, ideal float64 } // mV

// Ideal is the calibration of an electrode that needs none; 0 to 50 Cel, else
// ErrRange.
func Ideal(t Celsius) (Calibration, error) {
	s, err := NernstSlope(t)
	if err != nil {
		return Calibration{}, err
	}
	return Calibration{at: t, knots: []knot{{0, 0}, {float64(s), float64(s)}}}, nil
}

// Slopes beyond these are no electrode's in any state, but a number in the
// wrong place, in share of the ideal one. Common practice, no source: the worst
// deployment in the open data has 1.6.
const (
	slopeLeast = 0.25
	slopeMost  = 4
)

// buffersApart is how much two buffers must differ for a slope to be told from
// them. Common practice, no source: the closest pair sold is 6.86 and 7.00,
// which is no pair to calibrate with.
const buffersApart PH = 0.5

// Calibrate is the calibration by what an electrode gave in buffers of that
// temperature. One buffer moves the former curve, Ideal where there is none,
// and keeps its slope; two make a line, more a line between each two
// neighbours. Buffers closer than 0.5 pH, outside of pH 1 to 13, or a slope
// that no electrode has are ErrRange.
func Calibrate(former Calibration, t Celsius, standards ...Standard) (Calibration, error) {
	nernst, err := NernstSlope(t)
	if err != nil {
		return Calibration{}, err
	}
	c := Calibration{at: t}
	for _, s := range standards {
		if err := first(buffers.check(float64(s.Buffer)), potentials.check(float64(s.Given))); err != nil {
			return Calibration{}, err
		}
		c.knots = append(c.knots, knot{float64(s.Given), float64(nernst) * (7 - float64(s.Buffer))})
	}
	switch len(c.knots) {
	case 0:
		return Calibration{}, fmt.Errorf("a calibration without a buffer: %w", ErrRange)
	case 1:
		return former.moved(t, c.knots[0])
	}
	c.sloped = true
	slices.SortFunc(c.knots, func(a, b knot) int { return cmp.Compare(a.ideal, b.ideal) })
	for i := 1; i < len(c.knots); i++ {
		if apart := PH((c.knots[i].ideal - c.knots[i-1].ideal) / float64(nernst)); apart < buffersApart {
			return Calibration{}, fmt.Errorf("buffers %.2f pH apart: %w: want at least %.1f", float64(apart), ErrRange, float64(buffersApart))
		}
		if s := c.share(i); !(s >= slopeLeast && s <= slopeMost) {
			return Calibration{}, fmt.Errorf("a slope of %.0f %% of the ideal one: %w: want %.0f to %.0f; which buffer is which?",
				100*s, ErrRange, 100*slopeLeast, 100.0*slopeMost)
		}
	}
	return c, nil
}

// moved is the curve moved to go through k.
func (c Calibration) moved(t Celsius, k knot) (Calibration, error) {
	if len(c.knots) == 0 {
		return c, fmt.Errorf("one buffer and no slope: %w: want a second buffer, or a former calibration", ErrRange)
	}
	by := k.given - c.given(k.ideal)
	c.at, c.knots = t, slices.Clone(c.knots)
	for i := range c.knots {
		c.knots[i].given += by
	}
	return c, nil
}

// share is the slope left of knot i, in share of the ideal one.
func (c Calibration) share(i int) float64 {
	return (c.knots[i].given - c.knots[i-1].given) / (c.knots[i].ideal - c.knots[i-1].ideal)
}

// Slope is the electrode's slope in percent of the Nernst slope: of several
// lines the one farthest from 100. False: it was never told by two buffers.
func (c Calibration) Slope() (percent float64, known bool) {
	worst := 1.0
	for i := 1; i < len(c.knots); i++ {
		if s := c.share(i); math.Abs(s-1) > math.Abs(worst-1) {
			worst = s
		}
	}
	return 100 * worst, c.sloped
}

// Offset is what the electrode gives at pH 7, where an ideal one gives nothing.
func (c Calibration) Offset() Millivolt { return Millivolt(c.given(0)) }

// Temperature is that of the buffers.
func (c Calibration) Temperature() Celsius { return c.at }

// ideal and given go along the curve and back.
func (c Calibration) ideal(given float64) float64 {
	i := 1
	for i < len(c.knots)-1 && c.knots[i].given < given {
		i++
	}
	a := c.knots[i-1]
	return a.ideal + (given-a.given)/c.share(i)
}

func (c Calibration) given(ideal float64) float64 {
	i := 1
	for i < len(c.knots)-1 && c.knots[i].ideal < ideal {
		i++
	}
	a := c.knots[i-1]
	return a.given + (ideal-a.ideal)*c.share(i)
}

// PH is what the electrode's potential means in water of that temperature, 0 to
// 50 Cel, else ErrRange. A temperature that is taken 5 Cel wrong moves pH 6 and
// pH 8 by 0.017, and pH 7 not at all.
func (c Calibration) PH(mv Millivolt, t Celsius) (PH, error) {
	if len(c.knots) == 0 {
		return 0, fmt.Errorf("no calibration: %w", ErrUndetermined)
	}
	s, err := NernstSlope(t)
	if err := first(err, potentials.check(float64(mv))); err != nil {
		return 0, err
	}
	return PH(7 - c.ideal(float64(mv))/float64(s)), nil
}

// Corrected is what an instrument's pH means that read so in the buffers. It
// does its own compensation for the water's temperature. Beyond pH 0 to 14 it
// is ErrRange.
func (c Calibration) Corrected(reading PH) (PH, error) {
	mv, err := IdealElectrode(reading, c.at)
	if err != nil {
		return 0, err
	}
	return c.PH(mv, c.at)
}

// Between is the curve an electrode had on its way from c to other, share 0 to
// 1 of the time between them: what it gave in each buffer moved evenly.
func (c Calibration) Between(other Calibration, share float64) Calibration {
	out := Calibration{at: c.at, sloped: c.sloped && other.sloped}
	for _, k := range slices.Concat(c.knots, other.knots) {
		from, to := c.given(k.ideal), other.given(k.ideal)
		out.knots = append(out.knots, knot{from + share*(to-from), k.ideal})
	}
	slices.SortFunc(out.knots, func(a, b knot) int { return cmp.Compare(a.ideal, b.ideal) })
	out.knots = slices.CompactFunc(out.knots, func(a, b knot) bool { return math.Abs(b.ideal-a.ideal) < 1e-9 })
	return out
}

// Fouled is the curve as it was before the electrode was cleaned: what
// cleaning added to its reading, Check.Fouling, is taken off again.
func (c Calibration) Fouled(by PH) (Calibration, error) {
	s, err := NernstSlope(c.at)
	if err != nil {
		return c, err
	}
	c.knots = slices.Clone(c.knots)
	for i := range c.knots {
		c.knots[i].given += float64(by) * float64(s)
	}
	return c, nil
}
