package alert

import (
	"fmt"

	"lentic/collector/aquarium"
)

// deed is what moves an alarm from one state to the next, as in the alarm
// state transition diagram of ISA-18.2 and IEC 62682. Latched states are not
// used: an alarm that has returned needs no reset.
type deed string

const (
	occurs       deed = "occurs"
	returns      deed = "returns to normal"
	acknowledges deed = "acknowledge"
	shelves      deed = "shelve"
	unshelves    deed = "time limit of the shelf"
	suppresses   deed = "suppress"
	withdraws    deed = "out of service"
)

// after is the state an alarm is in after the deed. active tells whether its
// condition is true; it matters where a shelf ends. What the diagram does not
// allow is aquarium.ErrNotPossible and leaves the state; what changes nothing
// is no error.
func (d deed) after(s aquarium.State, active bool) (aquarium.State, error) {
	switch d {
	case occurs:
		return afterOccurs(s), nil
	case returns:
		return afterReturns(s), nil
	case acknowledges:
		switch s {
		case aquarium.Unacknowledged, aquarium.Acknowledged:
			return aquarium.Acknowledged, nil
		case aquarium.ReturnedUnacknowledged:
			return aquarium.Normal, nil
		}
	case shelves:
		switch s {
		case aquarium.Unacknowledged, aquarium.Acknowledged, aquarium.Shelved:
			return aquarium.Shelved, nil
		}
	case unshelves:
		switch {
		case s != aquarium.Shelved:
		case active:
			return aquarium.Unacknowledged, nil
		default:
			return aquarium.Normal, nil
		}
	case suppresses:
		return afterSuppresses(s), nil
	case withdraws:
		return afterWithdraws(s), nil
	}
	return s, fmt.Errorf("%w: %s an alarm that is %s", aquarium.ErrNotPossible, d, s)
}

func afterOccurs(s aquarium.State) aquarium.State {
	if s == aquarium.Shelved {
		return s
	}
	return aquarium.Unacknowledged
}

func afterReturns(s aquarium.State) aquarium.State {
	switch s {
	case aquarium.Unacknowledged, aquarium.ReturnedUnacknowledged:
		return aquarium.ReturnedUnacknowledged
	case aquarium.Shelved: // until its time: what comes and goes is why it was shelved
		return s
	}
	return aquarium.Normal
}

// afterSuppresses: only what was raised after its parent is suppressed, so what
// is annunciated already stays so.
func afterSuppresses(s aquarium.State) aquarium.State {
	switch s {
	case aquarium.Unacknowledged, aquarium.Acknowledged, aquarium.Shelved:
		return s
	}
	return aquarium.StateSuppressed
}

func afterWithdraws(s aquarium.State) aquarium.State {
	if s == aquarium.Shelved {
		return s
	}
	return aquarium.StateOutOfService
}
