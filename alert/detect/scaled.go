package detect

import (
	"math"

	"lentic/collector/aquarium"
)

// A level is told around a zero of its own, so that none of its values is one that a
// tank's cannot be. That it has come to be told in another unit, as after a device was
// changed, shows as it happens: from one reading to the next all of it, where it stands
// and how far its readings differ, is ten times what it was, or a tenth. Water that
// falls or rises keeps its noise, and one that hands stir does not stay. Common
// practice, no source.
const (
	tenTimes    = 10.0
	scaledReads = 5   // readings that tell, before and after
	scaledLeast = 1.5 // mm from its zero that a level must have stood; less moves too little
	scaledNear  = 1.5 // mm that a value may lie beside what it was
	scaledNoise = 2.0 // times that its noise, or its steps, may be more or less than is meant
)

// scaled is a level that is told in another unit.
type scaled struct {
	at     aquarium.Instant // since when; 0: it is not
	by     float64          // times what it was
	judged aquarium.Instant // the newest reading that was looked at
	leapt  aquarium.Instant // when it last went so far at once as ten times what it was; 0: it has not
}

// follow looks at the readings around the one that came long enough ago.
func (x *scaled) follow(t *tank, visit bool) {
	s := t.level
	if s == nil || len(s.points) == 0 || x.judged == s.newest() {
		return
	}
	if visit { // whoever changed it is there, and may have set it right
		x.at = 0
	}
	newest := s.newest()
	for k := len(s.points) - 1; k > 0 && s.points[k].at > x.judged; k-- {
		if math.Abs(s.points[k].v-s.points[k-1].v) >= (tenTimes-1)*scaledLeast-scaledNear && x.leapt < newest.Add(-unitOn) {
			x.leapt = s.points[k].at
		}
	}
	for k := len(s.upTo(x.judged.Add(-unitOn))); k < len(s.points) && newest.Sub(s.points[k].at) >= unitOn; k++ {
		by, is := rescaled(s.points, k)
		switch {
		case !is, t.vessel.changed != 0 && t.vessel.changed > s.points[k].at.Add(-unitOn): // what a change moves moves by as much
		case x.at != 0 && by*x.by == 1: // it is back
			x.at = 0
		default:
			x.at, x.by = s.points[k].at, by
		}
	}
	x.judged = newest
}

// told reports whether the level is told in another unit, as many times what is meant:
// either it is known, or it looks so since less than the time that makes it known, and no
// two readings have differed by less than that makes of a step. Water that rises by so
// much at once rises no further, and waits that long.
func (x *scaled) told(s *series, now aquarium.Instant) (by float64, is bool) {
	if x.at != 0 {
		return x.by, true
	}
	if x.leapt == 0 || now.Sub(x.leapt) > unitOn+2*s.interval() {
		return 0, false // as nearly always
	}
	k := len(s.upTo(x.leapt - 1))
	if k < scaledReads || k == len(s.points) {
		return 0, false
	}
	before, after := s.points[within(s.points, x.leapt.Add(-unitOn)):k], s.points[k:]
	if len(before) < scaledReads || math.Abs(after[0].v) < math.Abs(before[len(before)-1].v) || !alike(before, after, tenTimes) {
		return 0, false
	}
	was, step := resolution(before), resolution(after)
	return tenTimes, was > 0 && (step == 0 || step > tenTimes/scaledNoise*was)
}

// alike reports whether readings lie where others did, times so much.
func alike(before, after []point, by float64) bool {
	low, high := extremes(before)
	for _, p := range after {
		if v := p.v / by; v < low-scaledNear || v > high+scaledNear {
			return false
		}
	}
	m := middleIn(before) // a splash is none of it
	return math.Abs(m) >= scaledLeast && math.Abs(middleIn(after)/by-m) <= scaledNear
}

// rescaled reports whether all that is read from the k-th of the points on is what was
// read before it, but ten times it or a tenth.
func rescaled(ps []point, k int) (by float64, is bool) {
	if k < scaledReads || math.Abs(ps[k].v-ps[k-1].v) < scaledLeast/2 {
		return 0, false // as nearly always
	}
	before := ps[within(ps, ps[k].at.Add(-unitOn)):k]
	if len(before) < scaledReads {
		return 0, false
	}
	if by = tenTimes; math.Abs(ps[k].v) < math.Abs(ps[k-1].v) {
		by = 1 / tenTimes
	}
	if low, high := extremes(before); ps[k].v/by < low-scaledNear || ps[k].v/by > high+scaledNear {
		return 0, false // as nearly always
	}
	after := ps[k:within(ps, ps[k].at.Add(unitOn))]
	if len(after) < scaledReads {
		return 0, false
	}
	near := func(times float64) bool { // NaN where neither differs: then nothing is proved
		return times > by/scaledNoise && times < by*scaledNoise
	}
	if !near(rough(after)/rough(before)) || !near(resolution(after)/resolution(before)) {
		return 0, false // as nearly always
	}
	return by, alike(before, after, by)
}

// rough is the mean second difference of points.
func rough(ps []point) (sum float64) {
	for i := range len(ps) - 2 {
		sum += math.Abs(ps[i].v - 2*ps[i+1].v + ps[i+2].v)
	}
	return sum / float64(len(ps)-2)
}

// unit is the one that is sent, "" where it has no name.
func (x *scaled) unit(c aquarium.Sensor) aquarium.Unit {
	switch {
	case x.by < 1 && (c.Unit == "" || c.Unit == "mm"):
		return "cm"
	case x.by > 1 && c.Unit == "cm":
		return "mm"
	}
	return ""
}
