package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Where the level is held within a millimetre, or only floats tell, a leak shows
// in what the top-off brings: each run makes good what was lost since the one
// before it ended.
const (
	runsKept  = 10
	runsFor   = 24 * time.Hour   // less than Memory, so that a start changes nothing
	runsMerge = 30 * time.Minute // runs closer than that count as one
	runsLeast = time.Hour        // the runs looked at must reach back so far
	// Two stretches between runs must agree, or one speak for nearly twice
	// what may be lost: a bucket that somebody took is made good once.
	runsShare = 0.7 // of the litres, the most that one run may have brought
	runsAlone = 1.8
)

// run is one run of the top-off pump, or several close together.
type run struct {
	from, to aquarium.Instant
	litres   float64
}

// runs are the top-off's last ones, the newest last.
type runs struct {
	on   bool
	from aquarium.Instant
	kept [runsKept]run
	n    int
}

// follow notices the end of a run. What people or a change took is made good
// once, so nothing is known after those until the next run has ended.
func (r *runs) follow(t *tank, v *view, visit bool) {
	part := t.config.Equipment.TopOff
	on, known := t.parts.pump.isOn(v.now)
	if !known {
		return
	}
	since := t.parts.pump.since
	if visit || t.vessel.change.going || t.unpowered(v) {
		r.n, r.on = 0, false
		return
	}
	for r.n > 0 && r.kept[0].to < v.now.Add(-runsFor) {
		r.drop()
	}
	if r.on && !on && r.from < since {
		r.add(t, run{r.from, since, part.RateLH * since.Sub(r.from).Hours()})
	}
	r.on, r.from = on, since
}

func (r *runs) drop() {
	copy(r.kept[:], r.kept[1:r.n])
	r.n--
	r.kept[r.n] = run{}
}

// add keeps a run that has ended, and counts the one before it, which is whole
// now, in its day.
func (r *runs) add(t *tank, x run) {
	n := r.n
	if n > 0 && x.from.Sub(r.kept[n-1].to) < runsMerge {
		r.kept[n-1].to, r.kept[n-1].litres = x.to, r.kept[n-1].litres+x.litres
		return
	}
	if n > 1 {
		d := &t.vessel.days[0]
		d.added, d.span = d.added+r.kept[n-1].litres, d.span+r.kept[n-1].from.Sub(r.kept[n-2].to).Hours()
	}
	if n == runsKept {
		r.drop()
	}
	r.kept[r.n] = x
	r.n++
}

// rate is what the top-off has lately brought in, l/h, and since when, where that
// is more than may be lost; 0 where it is not, or too little is known.
func (r *runs) rate(may float64) (litresH float64, since aquarium.Instant) {
	var litres, span, most float64
	for i := r.n - 1; i > 0; i-- {
		x, before := r.kept[i], r.kept[i-1]
		litres, most = litres+x.litres, max(most, x.litres)
		span += x.from.Sub(before.to).Hours()
		if span < runsLeast.Hours() {
			continue
		}
		rate := litres / span
		if rate > runsAlone*may || rate > may && most <= runsShare*litres {
			return rate, before.to
		}
	}
	return 0, 0
}

// lately reports whether the last run is no older than twice as long as such a
// rate takes to call for the next.
func (r *runs) lately(at aquarium.Instant, rate float64) bool {
	if r.n == 0 {
		return false
	}
	x := r.kept[r.n-1]
	return at.Sub(x.to).Hours() < max(runsLeast.Hours(), 2*x.litres/rate)
}
