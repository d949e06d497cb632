package main

import (
	"fmt"
	"time"

	"lentic/alert"
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// stretchMonths is how long one healthy tank is looked at.
const (
	stretchMonths = 3
	month         = 30 * day
	week          = 7 * day
)

// habit is who comes: a service every other week, and now and then somebody
// nobody told of.
var habit = sim.Habit{ServiceDays: 14, Declared: 2, Undeclared: 1, Services: 0.4}

// explained is how long after somebody has gone an alarm is put down to them.
const explained = 2 * hour

// life is one healthy tank over some months and what was told of it.
type life struct {
	months float64
	about  string
	wolves []told
	page   int // told to nobody, while running in
	truths map[aquarium.Cause]int
	visits map[sim.VisitKind]*visited
}

// told is one alarm that nothing is the matter behind.
type told struct {
	at       aquarium.Instant
	cause    aquarium.Cause
	priority aquarium.Priority
	words    string
	declared bool // within explained of a declared visit's end
	new      bool // in the first week, while the tank is being learned
}

// visited counts undeclared visits of one kind and the alarms during them.
type visited struct{ visits, alarms, known int }

// lives lets the n-th healthy tank live.
func lives(seed uint64, n, months int, vs []view) life {
	config := [...]func() aquarium.Tank{full, handFed, small}[n%3]()
	v := vs[n/3%len(vs)]
	start := midnight.Add(time.Duration(n) * 31 * day) // in every season
	if n%4 == 3 {
		config.Started = start.Add(-10 * day).Time()
		if n%8 == 7 {
			config.Substrate = aquarium.Active
		}
	}
	end := start.Add(time.Duration(months) * month)
	visits := habit.Visits(seed, site.Timezone, start.Add(2*day), end.Add(-day))
	l := life{months: float64(months), truths: map[aquarium.Cause]int{}, visits: map[sim.VisitKind]*visited{},
		about: fmt.Sprintf("%s, %s, seed %d", config.ID, v, seed)}
	for _, w := range visits {
		if !w.Declared {
			l.of(w.Kind).visits++
		}
	}
	tank := sim.New(config, site.ID, site.Timezone, sim.Options{Seed: seed, Start: start, Life: true, Visits: visits, Steps: v.steps})
	s := v.site(config)
	f := feed{tank: tank, view: v, site: s, phase: phase(seed), after: after(seed)}
	alert.Replay(s, f.samples(start, end), declared(config, visits), start.Add(-aquarium.Step), end, func(t aquarium.Transition) {
		if t.Event == aquarium.Raised {
			l.hear(t, visits, moment{at: t.At, began: start, tank: tank, truth: tank.Truth(), config: &config})
		}
	})
	return l
}

func (l *life) of(k sim.VisitKind) *visited {
	if l.visits[k] == nil {
		l.visits[k] = &visited{}
	}
	return l.visits[k]
}

// hear sorts an alarm: put down to an undeclared visit, true, or false.
func (l *life) hear(t aquarium.Transition, visits []sim.Visit, m moment) {
	c := t.Identity.Cause
	near := false
	for _, w := range visits {
		if t.At < w.At || t.At > w.Until().Add(explained) {
			continue
		}
		if !w.Declared {
			l.of(w.Kind).alarms++
			if c == aquarium.VisitUndeclared {
				l.of(w.Kind).known++
			}
			return
		}
		near = true
	}
	switch {
	case t.PageOnly:
		l.page++
	case excused(c, m):
		l.truths[c]++
	default:
		l.wolves = append(l.wolves, told{at: t.At, cause: c, priority: t.Priority, declared: near, new: m.since() < week,
			words: fmt.Sprintf("%s/%s %s, %v %s", c, t.Identity.Equipment, t.Priority, t.Evidence.Value, t.Evidence.Unit)})
	}
}
