package alert

import (
	"cmp"
	"iter"
	"slices"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// Replay judges a site over recorded samples in event time, the very way the
// desk does, and calls fn with what each tick in (from, to] found. Samples come
// in the order of their times and begin detect.RunUp before from where there are
// such: what they lead to up to from is dropped. Where from is zero all of them
// are judged, and where to is, up to the step after the last. The journal may hold
// entries of other sites.
func Replay(site aquarium.Site, samples iter.Seq[aquarium.Sample], journal []aquarium.Entry, from, to aquarium.Instant, fn func(aquarium.Transition)) {
	Resume(site, nil, samples, journal, from, to, fn)
}

// Resume is Replay by a watch that is handed what one before it has learned, as
// the desk's is after a start, and returns what it has learned in the end.
func Resume(site aquarium.Site, learned []*detect.Learned, samples iter.Seq[aquarium.Sample], journal []aquarium.Entry, from, to aquarium.Instant, fn func(aquarium.Transition)) []*detect.Learned {
	r := replay{watch: newWatch(site), site: site, samples: samples, journal: journal, from: from, to: to, runUp: detect.RunUp}
	for _, l := range learned {
		r.watch.Recall(l)
	}
	r.run(fn)
	return r.watch.Learned()
}

// Untold is Resume up to a moment, and why none of the causes is told of a tank by then,
// in words: nothing where one is.
func Untold(site aquarium.Site, learned []*detect.Learned, samples iter.Seq[aquarium.Sample], journal []aquarium.Entry, from, at aquarium.Instant, tank aquarium.TankID, causes []aquarium.Cause) []string {
	w := detect.New(site)
	r := replay{watch: w, site: site, samples: samples, journal: journal, from: from, to: at, runUp: detect.RunUp}
	for _, l := range learned {
		w.Recall(l)
	}
	r.run(func(aquarium.Transition) {})
	return w.Untold(tank, causes)
}

// replay is one judgement of a stretch of time.
type replay struct {
	watch    watch
	site     aquarium.Site
	samples  iter.Seq[aquarium.Sample]
	journal  []aquarium.Entry
	standing []aquarium.Alarm // at from
	from, to aquarium.Instant
	// runUp is how long before from the ticks begin: at the first sample where
	// that is later. Zero: detect.Memory before from, whatever there is.
	runUp time.Duration
	// ended is asked from time to time whether to give up; nil: never.
	ended func() bool

	tick     aquarium.Instant // the next one
	stood    bool             // the watch knows what stands
	turnable bool             // it remembers how it stood
}

// goingLive is how long before its end a replay's watch begins to remember how
// it stood, so that it can go back when it goes on with what comes live.
const goingLive = 15 * time.Minute

// askEvery is after how many samples it is asked whether to give up: some
// milliseconds.
const askEvery = 4096

// run ticks through the run-up and then through (from, to]. Samples after to
// are not looked at.
func (r *replay) run(fn func(aquarium.Transition)) {
	note(r.watch, r.site.ID, r.journal)
	r.watch.Straight(true)
	endless, begun, last := r.to == 0, false, aquarium.Instant(0)
	if endless {
		r.to = forever
	}
	n := 0
	for s := range r.samples {
		if s.At > r.to {
			break
		}
		if n++; n%askEvery == 0 && r.ended != nil && r.ended() {
			return
		}
		if !begun {
			begun = true
			r.begin(s.At)
		}
		if r.tick < s.At {
			r.pass(s.At-1, fn)
		}
		r.watch.Observe(s)
		last = s.At
	}
	if endless {
		r.to = last.Ceil(aquarium.Step)
	}
	if !begun {
		r.begin(r.to)
	}
	r.pass(r.to, fn)
	r.turn()
	r.stand()
}

// forever is after every reading.
const forever = aquarium.Instant(1<<63 - 1)

// begin finds the first tick, as of the first sample.
func (r *replay) begin(first aquarium.Instant) {
	first = first.Floor(aquarium.Step)
	if r.from == 0 {
		r.from = first.Add(-aquarium.Step)
	}
	r.from = r.from.Floor(aquarium.Step)
	if r.runUp == 0 {
		r.tick = r.from.Add(-detect.Memory)
	} else {
		r.tick = min(r.from, max(first, r.from.Add(-r.runUp)))
	}
}

// pass ticks up to t.
func (r *replay) pass(t aquarium.Instant, fn func(aquarium.Transition)) {
	if r.tick <= 0 { // the zero Instant is no time
		r.tick = aquarium.Instant(0).Add(aquarium.Step)
	}
	for r.tick <= t {
		if r.tick > r.to.Add(-goingLive) {
			r.turn()
		}
		if r.tick > r.from {
			r.stand()
		}
		for _, x := range r.watch.Tick(r.tick) {
			if r.tick > r.from {
				fn(x)
			}
		}
		next := r.tick.Add(aquarium.Step)
		if next <= t && !r.turnable { // nothing has come for this step
			next = max(next, r.skip(min(t, r.to.Add(-goingLive)).Add(-detect.Memory)))
		}
		r.tick = next
	}
}

// skip is the tick to go on with where no sample comes until long after t: years
// may lie between two readings, as when a clock was wrong, and nothing changes in
// most of them.
func (r *replay) skip(t aquarium.Instant) aquarium.Instant {
	next := min(r.watch.Next(r.tick), t.Floor(aquarium.Step))
	if r.tick <= r.from {
		next = min(next, r.from)
	}
	return next
}

// turn lets the watch remember from now on how it stood.
func (r *replay) turn() {
	if !r.turnable {
		r.turnable = true
		r.watch.Straight(false)
	}
}

// stand tells the watch what stood at from.
func (r *replay) stand() {
	if !r.stood {
		r.stood = true
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
