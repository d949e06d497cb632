package screen

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

// away follows a sensor in the water that has jumped further than water goes,
// until it is back or has come to rest somewhere else.
type away struct {
	From   aquarium.Instant `json:"from,omitempty"` // its first reading; 0: it is not away
	Left   float64          `json:"left"`           // where it was before
	N      int              `json:"n"`
	Last   float64          `json:"last"`
	LastAt aquarium.Instant `json:"lastAt,omitempty"`
	Noise  float64          `json:"noise"` // mean size of its steps since it jumped
	// Rest is the value it has been near to for so many readings, since when.
	Rest   float64          `json:"rest"`
	RestAt aquarium.Instant `json:"restAt,omitempty"`
	RestN  int              `json:"restN"`
}

// What it takes to believe that a sensor stands in water again, other water or
// the tank's own: common practice, no source. A buffer is read for minutes.
const (
	restReadings = 3
	restTime     = 45 * time.Second
	// restless is how many times its usual steps a sensor in water may make:
	// the mean of five steps of normal noise is above that once in 100,000.
	restless = 2.5
	// resting is how many of its usual steps it may move altogether while it
	// is at rest: what still drifts has not arrived.
	resting = 4
	// spikes is how many far readings in a row are still outliers: a probe
	// that is away for longer is out of the water.
	spikes = 3
)

// strange is how many steps a sensor must have made to be known to be anywhere:
// the first readings may be the wrong ones.
const strange = 10

// left reports whether the held reading and this one are too far from the last
// to be the same water. A clean step, to a value that stands there at once, is
// none of that as long as a calibration or a change of the water may make it.
func (s *Screen) left(i int, v float64, at aquarium.Instant) bool {
	p, x := &s.plans[i], &s.sensors[i]
	once := x.reach(p, float64(x.Held.At-x.LastAt))
	step := min(math.Abs(x.HeldV-x.Last), math.Abs(v-x.Last))
	far := max(math.Abs(x.HeldV-x.Last), math.Abs(v-x.Last))
	if step <= once || far <= leaving*once || x.Usual.N < strange {
		return false
	}
	switch p.quantity {
	case aquarium.Temperature:
		return v == 0 || far > changing*at.Sub(x.LastAt).Hours()
	case aquarium.Conductivity: // a change of water is seen at once
		return v < dry*x.Last
	case aquarium.PH:
		if s.gassed && x.Last > x.HeldV && x.HeldV > v && x.Last-v <= gasFall*at.Sub(x.LastAt).Minutes() {
			return false
		}
		return far > p.first || math.Abs(v-x.HeldV) > x.stillness()
	}
	return true
}

// gasFall is by how much pH a minute gas may bring a tank's water down that is dosed
// with it: a reducer that lets thirty times its flow through as a cylinder runs out
// does a third of a pH by the night's plateau. It is judged, for it kills. Common
// practice, no source.
const gasFall = 0.4

// stillness is how far a sensor may move while it is at rest.
func (x *Sensor) stillness() float64 { return max(resting*x.Usual.Mean, 2.5*x.Usual.Grain) }

// leave begins with the first of two readings that are far from where the sensor
// was.
func (x *Sensor) leave() {
	v, at := x.HeldV, x.Held.At
	x.Away = away{From: at, Left: x.Last, N: 1, Last: v, LastAt: at, Rest: v, RestAt: at, RestN: 1}
}

// elsewhere judges a reading of a sensor that is away.
func (s *Screen) elsewhere(i int, v float64, r *Reading) {
	p, x := &s.plans[i], &s.sensors[i]
	a := &x.Away
	ms := float64(r.At - a.LastAt)
	step, reach := math.Abs(v-a.Last), x.reach(p, ms)
	x.learn(p, step, ms)
	back := math.Abs(v-a.Left) <= reach || !x.Home.holds(a.Last, reach/2) && x.Home.holds(v, reach/2)
	a.follow(v, r.At, min(step, reach), x.stillness())
	switch {
	case back:
		x.Home.Abroad = 0
	case s.rests(i, r.At):
		x.Home.goAbroad(v, r.At)
	case a.N <= spikes:
		r.Quality = aquarium.Spike
		return
	default:
		r.Quality = aquarium.InAir
		return
	}
	x.Away, x.Lately = away{}, lately{}
	x.believe(p, v, r.At)
}

// follow takes in a reading.
func (a *away) follow(v float64, at aquarium.Instant, step, still float64) {
	a.N++
	a.Noise += (step - a.Noise) / float64(min(max(a.N-1, 1), 8))
	a.RestN++
	if math.Abs(v-a.Rest) > still {
		a.Rest, a.RestAt, a.RestN = v, at, 1
	}
	a.Last, a.LastAt = v, at
}

// rests reports whether a sensor that is away has come to rest in water.
func (s *Screen) rests(i int, at aquarium.Instant) bool {
	p, x := &s.plans[i], &s.sensors[i]
	a := &x.Away
	if a.RestN < restReadings || at.Sub(a.RestAt) < restTime || a.Noise > restless*max(x.Usual.Mean, x.Usual.Grain) {
		return false
	}
	switch p.quantity {
	case aquarium.Temperature:
		return a.Last != 0 && s.waterWarm(i, at)
	case aquarium.Conductivity:
		return a.Last > dry*a.Left
	}
	return true
}

// dry is the share of its conductivity below which a cell stands in the air, or
// in water with nothing in it. Common practice, no source.
const dry = 0.1
