package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Five minutes before the rim somebody must be told. At a reading a minute two
// more come before that is sure, so it is told at seven. Above the level at which
// its pump starts, for up to there the container fills as it should; five
// millimetres more, for that is where waves and resolution end. Within ten of the
// rim it is told whatever the rate. Common practice, no source.
const (
	overflowLeft  = 7 * time.Minute
	overflowNear  = 10.0 // mm under the rim
	aboveStart    = 5.0  // mm
	leastRise     = 60.0 // mm/h: slower does not reach a rim within minutes
	overflowBack  = 10.0 // mm it has to fall again
	overflowOff   = 3 * time.Minute
	overflowStep  = 20.0 // mm further up is worth telling again
	overflowReads = 2    // one splash is no level
	// From half a metre by half a metre 600 l/h are 40 mm a minute: a change of
	// water brings less than half of that. A bucket of ten litres is over
	// before it has come to fifty.
	pourRate = 2400.0 // mm/h
	pourRise = 50.0   // mm
	pourFor  = time.Minute
)

// drainOverflow: the waste container nears its rim.
func drainOverflow(v *view, t *tank) {
	d, ok := t.drainOf(v)
	if !ok || d.part.OverflowMM <= 0 {
		return
	}
	rim := d.part.OverflowMM
	f := finding{equipment: "drain", off: overflowOff, worse: d.value, step: overflowStep}
	near := rim - overflowNear
	var rate float64
	var sloped bool
	if v.stands(aquarium.DrainOverflow, t.config.ID, f.equipment) {
		rate, sloped = d.rise(v.now)
		left := timeLeft(rim-d.value, rate)
		f.true = d.value > near-overflowBack || sloped && rate > leastRise && left != nil && *left < 2*overflowLeft.Minutes()
	} else if since, n := d.level.run(func(mm float64) bool { return mm >= near }); n >= overflowReads {
		f.true, f.since = true, since
		rate, sloped = d.rise(v.now)
	} else if pour, is := d.pours(v.now); is && !t.changing(v) {
		f.true, f.since, rate, sloped = true, v.now, pour, true
	} else if since, n := d.level.run(func(mm float64) bool { return mm > d.start(t)+aboveStart }); n >= overflowReads || n == 1 && d.climbed() {
		rate, sloped = d.rise(v.now)
		newest := d.level.points[len(d.level.points)-1].v
		f.since = since
		f.true = sloped && rate > leastRise && (rim-newest)/rate <= overflowLeft.Hours()
	}
	f.prove = func() aquarium.Evidence {
		e := aquarium.Evidence{Sensor: d.part.Level, Value: d.value, Unit: "mm", Limit: of(rim), Facts: d.facts(v, t)}
		if d.part.StartMM > 0 {
			e.Expected = of(d.part.StartMM)
		}
		if sloped {
			e.PerHour, e.HarmIn = of(rate), timeLeft(rim-d.value, rate)
			if rate > 0 {
				e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookSplash, Because: num(FactRise, rate, "mm/h")})
			}
		}
		return e
	}
	v.find(aquarium.DrainOverflow, t.config.ID, f)
}

// pours reports whether so much comes in, wherever the level is, that the rim is
// minutes away, and how fast: no unit does that, and hardly a pump takes it. What an
// automatic change lets out may come as fast; the pump meets that at its start, or
// the level shows beyond it that it does not.
func (d *drain) pours(at aquarium.Instant) (perHour float64, is bool) {
	ps := d.level.points
	n := len(ps)
	if n < 3 || ps[n-1].v-ps[n-3].v < aboveStart {
		return 0, false // as nearly always
	}
	from := min(n-3, n-len(d.level.window(at, pourFor)))
	rate := hingeOf(ps[from:], ps[from].at).perHour
	if rate < pourRate || (d.part.OverflowMM-ps[n-1].v)/rate > overflowLeft.Hours() {
		return 0, false
	}
	low := ps[n-1].v
	for i := n - 1; i >= 0 && ps[n-1].at.Sub(ps[i].at) <= riseWindow; i-- {
		low = min(low, ps[i].v)
	}
	return rate, ps[n-1].v-low >= pourRise && d.climbed()
}

// climbed reports whether each of the last three readings lies well above the one
// before: then the newest alone is believed, for what fills that fast leaves no
// time for another.
func (d *drain) climbed() bool {
	n := len(d.level.points)
	if n < 3 {
		return false
	}
	climbs := aboveStart
	if d.level.interval() < 30*time.Second {
		climbs = 3 // mm, as ten seconds of it
	}
	a, b, c := d.level.points[n-3].v, d.level.points[n-2].v, d.level.points[n-1].v
	return b-a >= climbs && c-b >= climbs
}

func blindOverflow(t *aquarium.Tank) string {
	switch d := t.Equipment.Drain; {
	case d == nil:
		return "no drain under equipment"
	case t.Sensor(d.Level) == nil:
		return "no level sensor under drain"
	case d.OverflowMM <= 0:
		return "no overflow_mm under drain"
	}
	return ""
}
