package detect

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// A clogging filter loses its flow over weeks, and a keeper plans its cleaning
// by the day it comes to its service limit. That is told when six tenths of what
// it may lose are gone: a fifth of the flow, where a third may go. By then the
// loss is a hundred times the error of a day's median, so that what is left to
// mistake is not noise but a cleaning, a pause or another pump setting.
const (
	clogLook     = 10 * time.Minute // often enough for what takes days
	serviceLimit = 0.67             // of the clean flow, unless the configuration says otherwise
	clogShare    = 0.6              // of what may go, when it is told
	clogBack     = 0.4
	clogHours    = 3 // the median of so many hours: one hour is a pause
	// A cleaning: the filter stood still, and gives more than it did.
	cleanedBy = 0.03
	cleanDays = 3 // its flow right after is their highest
	// The newest days tell how fast it goes on: of a filter that takes months, what pumps
	// and pauses make of its days leaves a line through fourteen an eighth wrong, and the day
	// by five; through as many again the error is a third of that.
	trendDays   = 28
	trendLeast  = 3
	trendFits   = 0.02      // of the clean flow: so far the last day may lie off its line
	clogHorizon = 400 * day // what is further off is not projected
)

// FilterLearned is what a filter's flow has come to.
type FilterLearned struct {
	Clean float64 `json:"clean"` // l/h, right after its last cleaning
	// Flows is the flow of each whole day since, the newest last; 0: not known.
	Flows []float64 `json:"flows"`
	Stood bool      `json:"stood"` // for a while, within the newest day
}

// learnFlows adds a day to what each filter has come to.
func learnFlows(_ *view, t *tank, l *Learned) {
	l.Filters = maps.Clone(l.Filters)
	for _, f := range t.config.Equipment.Filters {
		d, ok := l.Sensors[f.Flow]
		if !ok {
			continue
		}
		if l.Filters == nil {
			l.Filters = map[aquarium.EquipmentKey]FilterLearned{}
		}
		l.Filters[f.ID] = l.Filters[f.ID].with(last(d.Hours, 24))
	}
}

// with is what is known after one more day.
func (f FilterLearned) with(hours []Hour) FilterLearned {
	flow, stood := ran(hours, f.Clean)
	before := known3(f.Flows)
	if flow > 0 && before > 0 && (stood || f.Stood) && flow > before+cleanedBy*f.Clean {
		return FilterLearned{Clean: flow, Flows: []float64{flow}, Stood: stood}
	}
	next := FilterLearned{Clean: f.Clean, Stood: stood, Flows: append(slices.Clone(last(f.Flows, daysKept-1)), flow)}
	if len(next.Flows) <= cleanDays {
		next.Clean = max(f.Clean, flow)
	}
	return next
}

// ran is the flow while the filter ran, the median of its hours' highest, and
// whether it stood still for a while.
func ran(hours []Hour, clean float64) (flow float64, stood bool) {
	var highs []float64
	for _, h := range hours {
		if h.N == 0 {
			continue
		}
		stood = stood || h.Low < stallShare*clean
		if h.High > max(leastFlow, stallShare*clean) {
			highs = append(highs, h.High)
		}
	}
	if len(highs) == 0 {
		return 0, stood
	}
	return digits(statistic.Median(highs)), stood
}

// known3 is the median of the last three days that are known, 0 without any.
func known3(flows []float64) float64 {
	var fs []float64
	for i := len(flows) - 1; i >= 0 && len(fs) < 3; i-- {
		if flows[i] > 0 {
			fs = append(fs, flows[i])
		}
	}
	if len(fs) == 0 {
		return 0
	}
	return statistic.Median(fs)
}

// perDay is the change of the flow in l/h per day, from as many of the newest
// days as a line describes: a filter may clog faster by and by. It is false where
// there are too few. The line is the median one of all pairs, for a day with a
// pump set otherwise is no trend.
func (f FilterLearned) perDay() (tr trend, ok bool) {
	for _, days := range []int{trendDays, trendDays / 2, trendDays / 4, trendLeast} {
		line, off := lineOf(last(f.Flows, days))
		if line.slope >= 0 {
			continue
		}
		if tr, ok = line, true; math.Abs(off) <= trendFits*f.Clean {
			break
		}
	}
	return tr, ok
}

// trend is a line through the flows of days.
type trend struct {
	slope       float64 // l/h per day
	middle, end float64 // what it comes to in the middle of them, and on the last one, l/h
}

// lineOf is the trend of some days, and how far the last that is known lies off it.
func lineOf(flows []float64) (tr trend, off float64) {
	var x, y []float64
	for i, v := range flows {
		if v > 0 {
			x, y = append(x, float64(i)), append(y, v)
		}
	}
	line, ok := statistic.TheilSen(x, y, 0.95)
	if !ok || len(x) < trendLeast {
		return trend{}, math.Inf(1)
	}
	return trend{line.Slope, line.At((x[0] + x[len(x)-1]) / 2), line.At(float64(len(flows) - 1))}, y[len(y)-1] - line.At(x[len(x)-1])
}

// filterClogging: flow declines steadily; carries the projected day it reaches
// its service limit.
func filterClogging(v *view, t *tank) {
	if v.now.Floor(clogLook) != v.now {
		return
	}
	for _, f := range t.config.Equipment.Filters {
		s, l := t.sensor(f.Flow), t.learned.Filters[f.ID]
		if s == nil || l.Clean < leastFlow || len(l.Flows) < cleanDays {
			continue
		}
		flow, ok := t.runs(s, v.now, l.Clean)
		if !ok || !s.current(v.now) {
			continue
		}
		limit := cmp.Or(f.ServiceLimit, serviceLimit)
		share := clogShare
		if v.stands(aquarium.FilterClogging, t.config.ID, f.ID) {
			share = clogBack
		}
		is := flow <= l.Clean*(1-share*(1-limit))
		x := finding{equipment: f.ID, true: is}
		if is {
			x.projected = l.reaches(limit*l.Clean, flow, t.learned.Through, v.now)
			x.prove = func() aquarium.Evidence { return l.evidence(f, flow, limit) }
		}
		v.find(aquarium.FilterClogging, t.config.ID, x)
	}
}

// runs is the filter's flow now: the median of the last hours it ran in that are
// over; false where none are. Hours of a level that was below its band do not count:
// what draws at the surface draws less then.
func (t *tank) runs(s *series, at aquarium.Instant, clean float64) (float64, bool) {
	var highs []float64
	for i := 1; i <= 2*clogHours && len(highs) < clogHours; i++ {
		hour := at.Floor(time.Hour).Add(-time.Duration(i) * time.Hour)
		if h := t.hourOf(s, hour); h.N > 0 && h.High > max(leastFlow, stallShare*clean) && !t.wasLow(hour) {
			highs = append(highs, h.High)
		}
	}
	if len(highs) < clogHours {
		return 0, false
	}
	return middleOf(highs[0], highs[1], highs[2]), true
}

// wasLow reports whether the level is known to have been below its band in an hour.
func (t *tank) wasLow(hour aquarium.Instant) bool {
	band := t.topOff().BandMM
	if t.level == nil || band <= 0 {
		return false
	}
	h := t.hourOf(t.level, hour)
	return h.N > 0 && h.Mean < -band
}

// reaches is when the flow comes to its limit at the pace of the newest days, 0
// where it does not decline: never before now. Whether a filter goes on to lose so
// much a day, or such a share of what it still gives, for less flow brings less
// dirt, is its own: with the root of the flow the pace goes midway, and is wrong by
// half either way. Common practice, no source. It is counted from midway between the flow
// and the line, which ends on the day before through: what is told as it comes to a limit is
// told at its lowest hours, days early, and a line errs at its end as its slope does. A flow
// that has left the line since counts alone.
func (f FilterLearned) reaches(limit, flow float64, through, now aquarium.Instant) aquarium.Instant {
	tr, ok := f.perDay()
	if !ok || flow <= 0 {
		return 0
	}
	if line := tr.end + tr.slope*now.Sub(through.Add(-day/2)).Hours()/24; math.Abs(line-flow) <= trendFits*f.Clean {
		flow = (line + flow) / 2
	}
	left := 2 * math.Sqrt(tr.middle) * (math.Sqrt(limit) - math.Sqrt(flow)) / tr.slope * float64(day)
	if left > float64(clogHorizon) {
		return 0
	}
	return now.Add(time.Duration(max(0, left)))
}

func (f FilterLearned) evidence(of1 aquarium.Filter, flow, limit float64) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: of1.Flow, Value: flow, Unit: "l/h", Limit: of(limit * f.Clean), Expected: of(f.Clean),
		Facts: []aquarium.Fact{num(FactNormal, f.Clean, "l/h"), num(FactSince, float64(len(f.Flows)), "d")}}
	if tr, ok := f.perDay(); ok {
		e.PerHour = of(tr.slope / 24)
	}
	e.Excluded = []aquarium.Excluded{{What: aquarium.LookStop, Because: num(FactNormal, flow/f.Clean*100, "%")}}
	return e
}

func middleOf(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }
