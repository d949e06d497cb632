package main

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// moment is a tank as it is in truth, ten seconds after the moment before.
type moment struct {
	at, began aquarium.Instant // began: when the fault did
	tank      *sim.Tank
	truth     sim.Truth
	config    *aquarium.Tank
	told      bool // what the machines are told can be seen
}

func (m moment) since() time.Duration { return m.at.Sub(m.began) }

func (m moment) clock() aquarium.Clock { return aquarium.ClockOf(m.at.In(site.Timezone)) }

// words are a sentence of the table about the tank. Each trial asks for a fresh
// one, which is then shown every moment from the fault's beginning on, and says
// whether it has come true.
type words func() func(moment) bool

// when makes words that need no memory.
func when(is func(moment) bool) words { return func() func(moment) bool { return is } }

// lasting makes words that are true once something has been so for a while on end.
func lasting(d time.Duration, is func(moment) bool) words {
	return func() func(moment) bool {
		var from aquarium.Instant
		return func(m moment) bool {
			if !is(m) {
				from = 0
				return false
			}
			if from == 0 {
				from = m.at
			}
			return m.at.Sub(from) >= d
		}
	}
}

// adding makes words that are true once something has been so for a while in
// all.
func adding(d time.Duration, is func(moment) bool) words {
	return func() func(moment) bool {
		sum := time.Duration(0)
		return func(m moment) bool {
			if is(m) {
				sum += aquarium.Step
			}
			return sum >= d
		}
	}
}

// clock is one sentence and how long after it the alarm may come.
type clock struct {
	says  string
	when  words
	allow time.Duration
}

// deadline is the earliest of its clocks: "whichever is first".
type deadline []clock

// running is a deadline in the course of a trial.
type running struct {
	clocks []clock
	look   []func(moment) bool
	every  time.Duration
	due    aquarium.Instant // 0: not yet
	says   string
}

func (d deadline) start(every time.Duration) *running {
	r := &running{clocks: d, every: every, look: make([]func(moment) bool, len(d))}
	for i, c := range d {
		r.look[i] = c.when()
	}
	return r
}

// see looks at the tank; a sentence that has come true sets the deadline, at
// the soonest two reporting intervals later.
func (r *running) see(m moment) {
	for i, look := range r.look {
		if look == nil || !look(m) {
			continue
		}
		r.look[i] = nil
		due := m.at.Add(max(r.clocks[i].allow, 2*r.every))
		if r.due == 0 || due < r.due {
			r.due, r.says = due, r.clocks[i].says
		}
	}
}
