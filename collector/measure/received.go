package measure

import (
	"errors"

	"lentic/collector/aquarium"
)

// ErrNotReversible: what a counter sent cannot be told from its rate.
var ErrNotReversible = errors.New("a counter's rate cannot be turned back into its total: give the history to a sensor that is no counter")

// Received is Sample backwards: the reading that a sample stands for, such as
// the sensor could have sent it. It is how a history in first units becomes
// readings. For a sensor with scale or offset the way there and back may differ
// in a value's last place.
func Received(s aquarium.Sensor, v aquarium.Sample) (aquarium.Reading, error) {
	r := aquarium.Reading{Sensor: v.Sensor, At: v.At, Value: v.Value, Unit: s.Quantity.Unit(), Retimed: v.Quality == aquarium.Retimed}
	switch {
	case s.Counter:
		return r, ErrNotReversible
	case s.Quantity == aquarium.Number:
		r.Unit = s.Unit
	}
	r.Value -= s.Offset
	if s.Scale != 0 {
		r.Value /= s.Scale
	}
	return r, nil
}
