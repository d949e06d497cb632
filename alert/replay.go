package alert

import (
	"cmp"
	"iter"
	"slices"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// Replay judges a site over recorded samples in event time, the very way the
// desk does, and calls fn with what each tick in (from, to] found. Samples come
// in the order of their times and begin detect.Memory before from where there
// are such: what they lead to up to from is dropped. The journal may hold
// entries of other sites.
func Replay(site aquarium.Site, samples iter.Seq[aquarium.Sample], journal []aquarium.Entry, from, to aquarium.Instant, fn func(aquarium.Transition)) {
	r := replay{watch: newWatch(site), site: site, samples: samples, journal: journal, from: from, to: to}
	r.run(fn)
}

// replay is one judgement of a stretch of time.
type replay struct {
	watch    watch
	site     aquarium.Site
	samples  iter.Seq[aquarium.Sample]
	journal  []aquarium.Entry
	standing []aquarium.Alarm // at from
	from, to aquarium.Instant
}

// run ticks through the warm-up and then through (from, to]. Samples after to
// are not looked at.
func (r *replay) run(fn func(aquarium.Transition)) {
	note(r.watch, r.site.ID, r.journal)
	next, stop := iter.Pull(r.samples)
	defer stop()
	s, ok := next()
	from := r.from.Floor(aquarium.Step)
	tick := from.Add(-detect.Memory).Ceil(aquarium.Step)
	stood := false
	for ; tick <= r.to; tick = tick.Add(aquarium.Step) {
		if tick > from && !stood {
			stood = true
			r.watch.Stand(r.standing)
		}
		for ; ok && s.At <= tick; s, ok = next() {
			r.watch.Observe(s)
		}
		for _, t := range r.watch.Tick(tick) {
			if tick > from {
				fn(t)
			}
		}
	}
	if !stood {
		r.watch.Stand(r.standing)
	}
}

// note gives the watch those entries that concern the site.
func note(w watch, site aquarium.SiteID, journal []aquarium.Entry) {
	for _, e := range journal {
		if e.Site == "" || e.Site == site {
			w.Note(e)
		}
	}
}

// inOrder sorts samples as a watch takes them.
func inOrder(ss []aquarium.Sample) {
	slices.SortStableFunc(ss, func(a, b aquarium.Sample) int {
		return cmp.Or(cmp.Compare(a.At, b.At),
			cmp.Compare(a.Sensor.Site, b.Sensor.Site),
			cmp.Compare(a.Sensor.Tank, b.Sensor.Tank),
			cmp.Compare(a.Sensor.Sensor, b.Sensor.Sensor))
	})
}
