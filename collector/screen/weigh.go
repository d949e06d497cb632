package screen

import (
	"math"

	"lentic/collector/aquarium"
)

// Sensor is what a Screen knows of one sensor.
type Sensor struct {
	Heard  aquarium.Instant `json:"heard,omitempty"`  // the newest reading of any quality
	Last   float64          `json:"last"`             // the newest believed value, without what loads add
	LastAt aquarium.Instant `json:"lastAt,omitempty"` // 0: none
	Held   Reading          `json:"held,omitzero"`    // far from Last, and not known yet what it is; At 0: none
	HeldV  float64          `json:"heldV,omitempty"`  // its value without what loads add
	Usual  usual            `json:"usual"`
	Home   home             `json:"home,omitzero"`
	Away   away             `json:"away,omitzero"`
	Lately lately           `json:"lately,omitzero"`
	Run    run              `json:"run,omitzero"`
	Before [before]point    `json:"before,omitzero"` // the last readings, the newest first
}

type point struct {
	At aquarium.Instant `json:"at"`
	V  float64          `json:"v"`
}

// weigh judges a reading that the quantity can have, and says what the one was
// that is held; hold: of this one it cannot be said before the next.
func (s *Screen) weigh(i int, r *Reading) (freed aquarium.Quality, hold bool) {
	p, x := &s.plans[i], &s.sensors[i]
	stands := x.Run.stands(p, &x.Usual, r.Value, r.At)
	value := r.Value
	if p.water && len(s.loads) > 0 {
		offset, on := s.offset(i, r)
		if value -= offset; on {
			r.Quality = aquarium.Electrical
		}
	}
	freed = aquarium.Spike
	switch {
	case x.LastAt == 0:
		x.believe(p, value, r.At)
	case x.Away.From != 0:
		s.elsewhere(i, value, r)
	default:
		if freed, hold = s.follow(i, value, r); hold {
			return freed, hold
		}
	}
	if stands && r.Quality.Judged() {
		r.Quality = aquarium.Frozen
	}
	return freed, false
}

// follow judges a reading by how far it is from the last.
func (s *Screen) follow(i int, value float64, r *Reading) (freed aquarium.Quality, hold bool) {
	p, x := &s.plans[i], &s.sensors[i]
	ms := float64(r.At - x.LastAt)
	step, reach := math.Abs(value-x.Last), x.reach(p, ms)
	if x.Held.At == 0 {
		if step > reach && (x.Home.Abroad == 0 || !x.Home.holds(value, reach/2)) {
			x.HeldV = value
			return freed, true
		}
		x.learn(p, step, ms)
		x.Usual.stray(false)
		if p.quantity == aquarium.Temperature && p.water && x.Lately.tooFast(value, r.At, reach) {
			x.Away = away{From: r.At, Left: x.Lately[1].V, Last: x.Last, LastAt: x.LastAt, Rest: value, RestAt: r.At}
			s.elsewhere(i, value, r)
			return freed, false
		}
		x.believe(p, value, r.At)
		return freed, false
	}
	out, back := x.HeldV-x.Last, value-x.HeldV
	stray := out*back < 0 && math.Abs(back) > max(math.Abs(out)/2, x.reach(p, float64(r.At-x.Held.At)))
	if x.Usual.stray(stray); !stray || x.Usual.Wild > tooWild {
		x.learn(p, math.Abs(out), float64(x.Held.At-x.LastAt))
		x.learn(p, step, ms)
	}
	switch {
	case p.water && s.left(i, value, r.At):
		x.leave()
		s.elsewhere(i, value, r)
		return aquarium.Spike, false
	case stray:
		freed = aquarium.Spike
	default: // a step, or the first of a slope
		freed = aquarium.Good
		if x.Usual.N < strange {
			x.Lately, x.Home = lately{}, home{} // what was before may have been wrong
		}
	}
	x.believe(p, value, r.At)
	return freed, false
}

// learn takes in a step, as if it had taken one interval. A frozen sensor teaches
// nothing.
func (x *Sensor) learn(p *plan, step, ms float64) {
	if x.Run.Frozen {
		return
	}
	if ms > 1.5*x.Usual.Pace {
		if step *= x.Usual.Pace / ms; step < x.Usual.Grain {
			step = 0
		}
	}
	x.Usual.learn(step, p.least)
}

// believe takes a value for the water's own.
func (x *Sensor) believe(p *plan, value float64, at aquarium.Instant) {
	x.Last, x.LastAt = value, at
	if p.water {
		x.Lately.note(value, at)
		x.Home.stay(value, at)
	}
}
