package water

import "time"

// Balance is where the water of some stretch of time came from and went.
type Balance struct {
	In         Litre // from the mains, past the meter
	Stored     Litre // more in the reservoir than at the beginning; less is negative
	Tank       Litre // more in the tank, likewise
	Evaporated Litre
	Wasted     Litre // to the drain: reject of the unit, old water of a change
}

// Missing is what came in and is nowhere: above 0 water is lost, below 0 there
// is more than came in. It is no better than its worst part, which mostly is
// what evaporated. Out of range is ErrRange.
func (b Balance) Missing() (Litre, error) {
	if err := first(volumes.check(float64(b.In)), changes.check(float64(b.Stored)), changes.check(float64(b.Tank)),
		changes.check(float64(b.Evaporated)), volumes.check(float64(b.Wasted))); err != nil {
		return 0, err
	}
	return b.In - b.Stored - b.Tank - b.Evaporated - b.Wasted, nil
}

// PerDay is the flow that comes to that volume in so long a time, as a pump's
// litres in the days it was counted. An hour to 400 days, else ErrRange.
func PerDay(volume Litre, over time.Duration) (LitrePerDay, error) {
	if err := first(volumes.check(float64(volume)), stretches.check(over.Hours())); err != nil {
		return 0, err
	}
	return LitrePerDay(float64(volume) * 24 / over.Hours()), nil
}

// Pumped is the volume a pump moves that ran for so long in all; out of range
// is ErrRange.
func Pumped(rate LitrePerHour, ran time.Duration) (Litre, error) {
	v := float64(rate) * ran.Hours()
	return Litre(v), first(flows.check(float64(rate)), volumes.check(v))
}

// PerDay is the same flow by the day.
func (f LitrePerHour) PerDay() LitrePerDay { return LitrePerDay(f * 24) }
