package screen

import (
	"time"

	"lentic/collector/aquarium"
)

// RunUp is how much of what came before a screen should be shown first, so that
// it knows the sensors as well as it ever will.
const RunUp = fortnight

// Screen judges the samples of one tank. One goroutine at a time may use it.
type Screen struct {
	keys  []aquarium.SensorKey
	plans []plan
	index map[aquarium.SensorID]int
	room  int   // the sensor of the room's temperature; -1: none
	valve int   // of the CO2 valve; -1: none
	loads []int // the sensors of the loads
	// gassed: CO2 is let into the tank, which may bring its pH down quickly.
	gassed bool

	sensors []Sensor
	held    int      // of them, with a reading of which it cannot be said yet what it is
	effects []Effect // of each sensor in the water, of each load
}

// New is a Screen that knows nothing yet of the tank's sensors.
func New(site aquarium.SiteID, tank aquarium.Tank) *Screen {
	s := &Screen{index: map[aquarium.SensorID]int{}, room: -1, valve: -1, gassed: tank.Equipment.CO2 != nil}
	for i, c := range tank.Sensors {
		p := planFor(c)
		if r := tank.Equipment.Room; r != nil && r.Temperature == c.ID {
			p.water, s.room = false, i
		}
		if c.Quantity == aquarium.Switch && len(s.loads) < maxLoads && isLoad(tank, c.ID) {
			if c2 := tank.Equipment.CO2; c2 != nil && c2.Valve == c.ID {
				s.valve = i
			}
			p.load = len(s.loads)
			s.loads = append(s.loads, i)
		}
		s.index[c.ID] = i
		s.keys = append(s.keys, aquarium.SensorKey{Site: site, Tank: tank.ID, Sensor: c.ID})
		s.plans = append(s.plans, p)
	}
	n := 0
	for i := range s.plans {
		if s.plans[i].water {
			s.plans[i].row = n
			n += len(s.loads)
		}
	}
	s.sensors, s.effects = make([]Sensor, len(s.plans)), make([]Effect, n)
	return s
}

// Index is the place of a sensor in the configuration, for Judge; -1 where the
// tank has no such one.
func (s *Screen) Index(id aquarium.SensorID) int {
	if i, ok := s.index[id]; ok {
		return i
	}
	return -1
}

// Take judges a sample. It calls emit for what can be said now: at most twice,
// for the one that was held and for this one, in the order of their times. A
// sample of a sensor that the tank does not have is handed on as it is.
func (s *Screen) Take(v aquarium.Sample, emit func(aquarium.Sample)) {
	i := s.Index(v.Sensor.Sensor)
	if i < 0 {
		emit(v)
		return
	}
	a, b, n := s.Judge(i, Reading{v.At, v.Value, v.Quality})
	for _, r := range []Reading{a, b}[:n] {
		emit(aquarium.Sample{Sensor: v.Sensor, At: r.At, Value: r.Value, Quality: r.Quality})
	}
}

// Reading is one reading of a sensor that is known to whoever asks.
type Reading struct {
	At      aquarium.Instant `json:"at"`
	Value   float64          `json:"v"`
	Quality aquarium.Quality `json:"quality,omitempty"`
}

// Judge is Take for whoever knows the sensor's Index: of the two the first n are what
// can be said now. A reading that is not newer than the sensor's last is given
// back as it is, for its place is behind those.
func (s *Screen) Judge(i int, r Reading) (first, second Reading, n int) {
	p, x := &s.plans[i], &s.sensors[i]
	if r.At <= x.Heard {
		return r, Reading{}, 1
	}
	x.hear(r.At)
	if r.Quality.Judged() && !p.possible(r.Value) {
		r.Quality = aquarium.OutOfRange
	}
	freed, hold := aquarium.Spike, false
	switch {
	case !r.Quality.Judged(): // it says nothing of the water, nor of the one that is held
	case p.quantity == aquarium.Switch:
		s.turn(i, r)
	default:
		freed, hold = s.weigh(i, &r)
	}
	if x.Held.At != 0 && x.Held.At != r.At {
		if p.holds() && r.At.Sub(x.Held.At) > leastPatience {
			freed = x.Held.Quality // as Free would have it
		}
		first, n = x.free(freed), 1
		s.held--
	}
	switch {
	case hold:
		x.Held = r
		s.held++
		return first, Reading{}, n
	case n == 0:
		return r, Reading{}, 1
	}
	return first, r, 2
}

// free lets the held reading go.
func (x *Sensor) free(q aquarium.Quality) Reading {
	r := x.Held
	x.Held = Reading{}
	if !q.Judged() { // else it keeps its own
		r.Quality = q
	}
	return r
}

// patience is how many of its intervals a sensor may be quiet before a held
// reading is let go, and leastPatience how long it may be so at least.
const (
	patience      = 3
	leastPatience = time.Minute
)

// Flush lets go every reading that has been held for so long that the next one
// will not come to explain it: an outlier at the end of what a sensor said is not
// judged. At the end of a recording, flush far ahead.
func (s *Screen) Flush(now aquarium.Instant, emit func(aquarium.Sample)) {
	for i := range s.sensors {
		if r, ok := s.Free(i, now); ok {
			emit(aquarium.Sample{Sensor: s.keys[i], At: r.At, Value: r.Value, Quality: r.Quality})
		}
	}
}

// Free is Flush for one sensor; false: nothing is to be let go. What holds is no outlier.
func (s *Screen) Free(i int, now aquarium.Instant) (Reading, bool) {
	x, p := &s.sensors[i], &s.plans[i]
	quiet, is := now.Sub(x.Held.At), aquarium.Spike
	switch {
	case x.Held.At == 0 || quiet <= leastPatience:
		return Reading{}, false
	case p.holds():
		is = x.Held.Quality
	case quiet <= patience*x.pace():
		return Reading{}, false
	}
	s.held--
	return x.free(is), true
}

// Holds reports whether any reading is held: else there is nothing for Free.
func (s *Screen) Holds() bool { return s.held > 0 }
