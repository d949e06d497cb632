package tanks

import (
	"fmt"

	"lentic/collector/aquarium"
)

// Reading is one value of the sensor numbered Series, Sensors of them a tank.
type Reading struct {
	Series int
	At     int64 // Unix milliseconds
	Value  float64
}

// Source gives the readings of a number of tanks turn by turn. It is for one
// goroutine.
type Source struct {
	// Count makes NoiseBits mean something, at some cost.
	Count bool

	stamps Stamps
	tanks  []tank
	turn   int64 // ms, a multiple of Every
	drawn  int
}

// NewSource starts at the given time, rounded up to a whole turn.
func NewSource(n int, stamps Stamps, start int64, seed uint64) *Source {
	s := &Source{stamps: stamps, turn: (start + Every - 1) / Every * Every}
	for i := range n {
		s.tanks = append(s.tanks, newTank(seed, i))
	}
	return s
}

// Turn is when the next turn begins: no reading of it is earlier, and none is
// Every later or more.
func (s *Source) Turn() int64 { return s.turn }

// Next appends one reading of every sensor, tank by tank.
func (s *Source) Next(dst []Reading) []Reading {
	for i := range s.tanks {
		t := &s.tanks[i]
		t.step()
		t.draw(s.Count)
		at := s.turn + t.phase
		if s.stamps == Message {
			at += t.noise.below(Jitter)
		}
		for k := range sensors {
			if s.stamps == Own {
				at = s.turn + t.own[k] + t.noise.below(Jitter)
			}
			dst = append(dst, Reading{Series: i*Sensors + k, At: at, Value: t.drawn[k] / sensors[k].per})
		}
	}
	s.drawn += len(s.tanks) * Sensors
	s.turn += Every
	return dst
}

// NoiseBits is the information a reading has held on average, its stamp's
// included, for one who knows the tanks' true state at every moment: nothing
// lossless can be smaller.
func (s *Source) NoiseBits() float64 {
	sum := 0.0
	for i := range s.tanks {
		sum += s.tanks[i].bits
	}
	return sum/float64(max(s.drawn, 1)) + s.stamps.Bits()
}

// Key is the sensor of a series, at invented places.
func Key(series int) aquarium.SensorKey {
	sites := [...]aquarium.SiteID{"quillmere-library", "hotel-sarnbrook", "velloway-physiotherapy"}
	tank := series / Sensors
	return aquarium.SensorKey{
		Site:   sites[tank%len(sites)],
		Tank:   aquarium.TankID(fmt.Sprintf("tank-%02d", tank)),
		Sensor: sensors[series%Sensors].id,
	}
}

// Unit is what the series is measured in.
func Unit(series int) aquarium.Unit { return sensors[series%Sensors].unit }

// Steps is how many of a sensor's steps make one unit.
func Steps(series int) float64 { return sensors[series%Sensors].per }
