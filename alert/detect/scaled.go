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
	for k := len(s.upTo(x.judged.Add(-unitOn))); k < len(s.points) && newest.Sub(s.points[k].at) >= unitOn; k++ {
		by, is := rescaled(s.points, k)
		switch {
		case !is:
		case x.at != 0 && by*x.by == 1: // it is back
			x.at = 0
		default:
			x.at, x.by = s.points[k].at, by
		}
	}
	x.judged = newest
}

// rescaled reports whether all that is read from the k-th of the points on is what was
// read before it, but ten times it or a tenth.
func rescaled(ps []point, k int) (by float64, is bool) {
	if k < scaledReads || math.Abs(ps[k].v-ps[k-1].v) < scaledLeast/2 {
		return 0, false // as nearly always
	}
	before, after := ps[within(ps, ps[k].at.Add(-unitOn)):k], ps[k:within(ps, ps[k].at.Add(unitOn))]
	if len(before) < scaledReads || len(after) < scaledReads {
		return 0, false
	}
	if by = tenTimes; math.Abs(ps[k].v) < math.Abs(ps[k-1].v) {
		by = 1 / tenTimes
	}
	low, high := extremes(before)
	for _, p := range after {
		if v := p.v / by; v < low-scaledNear || v > high+scaledNear {
			return 0, false
		}
	}
	if math.Abs(mean(before)) < scaledLeast {
		return 0, false
	}
	for _, times := range [...]float64{rough(after) / rough(before), resolution(after) / resolution(before)} {
		if !(times > by/scaledNoise && times < by*scaledNoise) { // NaN where neither differs: then nothing is proved
			return 0, false
		}
	}
	return by, true
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
