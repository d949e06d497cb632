package detect

import (
	"slices"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Vigour is how strongly a tank's gas comes. A drift is learned anew each time the probe
// is handled, which many do each week; how much gas comes does not change with it, but for
// the tenth or two by which it is calibrated. So that what is next to none, and how much of
// its time the valve has to be open, are known all the same.
type Vigour struct {
	Through aquarium.Instant `json:"through"`
	Rates   []float64        `json:"rates,omitempty"`  // of mornings, the newest last: see morning
	Nights  []float64        `json:"nights,omitempty"` // pH before them
	Duties  []float64        `json:"duties,omitempty"` // the valve's shares of days, as logarithms
	// What they come to; Rate is that of a weak morning, of which a quarter are weaker.
	Rate  float64 `json:"rate"`
	Night float64 `json:"night"`
	Duty  float64 `json:"duty"`  // the newest day's, if it is more than what is usual
	Share float64 `json:"share"` // of the valve as of Through's day, as its logarithm; 0: not known
}

const (
	vigourKept  = 7
	vigourLeast = 3 // so many must be known
)

// learnVigour takes the day's morning in, or its cycles where there are no mornings.
func learnVigour(v *view, t *tank, l *Learned) {
	if !t.dosed() {
		return
	}
	next, m := l.Vigour, t.dosing.morning
	next.Share = t.opening()
	switch {
	case nightless(t.config.Equipment.CO2):
		if today := t.dosing.cycling.last.since(max(next.Through, l.Through.Add(-day))).until(l.Through); len(today) >= cyclesLeast {
			next.takeDuty(today.share())
		}
		next.Through = l.Through
	case m.At > next.Through && m.At < l.Through:
		next.takeMorning(m, t.dosing.opened)
	}
	l.Vigour = next
}

func (x *Vigour) takeMorning(m morning, duty float64) {
	x.Through = m.At
	x.Rates, x.Nights = kept(x.Rates, m.Rate), kept(x.Nights, m.Plateau)
	sorted := slices.Sorted(slices.Values(x.Rates))
	x.Rate, x.Night = sorted[len(sorted)/4], statistic.Median(slices.Clone(x.Nights))
	if duty != 0 {
		x.takeDuty(duty)
	}
}

func (x *Vigour) takeDuty(share float64) {
	x.Duties = kept(x.Duties, share)
	x.Duty = max(share, statistic.Median(slices.Clone(x.Duties)))
}

// kept is the newest vigourKept of them with one more.
func kept(vs []float64, v float64) []float64 {
	return append(slices.Clone(last(vs, vigourKept-1)), v)
}
