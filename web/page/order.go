package page

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
)

// need is how soon a person is wanted; the order is that of the page.
type need int

const (
	needNow   need = iota // a high alarm nobody has answered for
	needToday             // a medium one
	inHand                // acknowledged and still standing
	needLook              // a low alarm, or one that went by itself and was never seen
	young                 // shown only: the tank is running in
	silent
	visited
	settled
)

// needWords are what stands before the sentence; never colour alone.
var needWords = map[need]string{
	needNow: "Needs you now", needToday: "Needs you today", inHand: "In hand",
	needLook: "For your next visit", young: "Running in", silent: "Silent", visited: "Visit",
}

// needOf is what one alarm asks for.
func needOf(a *Alarm) need {
	if a.PageOnly && (a.State == aquarium.Unacknowledged || a.State == aquarium.ReturnedUnacknowledged) {
		return young
	}
	switch a.State {
	case aquarium.Unacknowledged:
		switch a.Priority {
		case aquarium.High:
			return needNow
		case aquarium.Medium:
			return needToday
		}
		return needLook
	case aquarium.Acknowledged, aquarium.Shelved:
		return inHand
	case aquarium.ReturnedUnacknowledged:
		return needLook
	}
	return settled
}

// worst orders alarms: what is needed first, then priority, then the oldest.
func worst(as []Alarm) []Alarm {
	as = slices.Clone(as)
	slices.SortStableFunc(as, func(a, b Alarm) int {
		return cmp.Or(cmp.Compare(needOf(&a), needOf(&b)), cmp.Compare(b.Priority, a.Priority),
			cmp.Compare(a.Since, b.Since), cmp.Compare(a.Cause, b.Cause))
	})
	return as
}

// needOfTank is the most urgent of what stands at v.
func needOfTank(v *TankView, now aquarium.Instant) need {
	n := settled
	for i := range v.Alarms {
		n = min(n, needOf(&v.Alarms[i]))
	}
	switch {
	case n < silent:
	case v.Heard == 0 || now.Sub(v.Heard) > quiet:
		return silent
	case v.Visit != nil:
		return visited
	}
	return n
}

// ordered puts who needs the keeper first on top; tanks that are settled keep
// the order given.
func ordered(vs []TankView, now aquarium.Instant) []TankView {
	vs = slices.Clone(vs)
	slices.SortStableFunc(vs, func(a, b TankView) int {
		na, nb := needOfTank(&a, now), needOfTank(&b, now)
		if na != nb || na >= silent {
			return cmp.Compare(na, nb)
		}
		return cmp.Compare(worst(a.Alarms)[0].Since, worst(b.Alarms)[0].Since)
	})
	return vs
}
