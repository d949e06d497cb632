package detect

import (
	"iter"
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// People switch filters off to feed, most days at about the same time. That is
// learned: a pause that ended by itself makes one at that time of another day
// usual, for two weeks, and a filter that stands still then is told only when the
// pause should have been over for afterStop. Common practice, no source.
const (
	pauseLeast = time.Minute
	pauseMost  = 20 * time.Minute // longer, and it is no feeding
	pauseNear  = 30 * time.Minute // about the same time of day
	pauseFeeds = 10 * time.Minute // what feeding takes mostly
	pausesTell = 3                // so many tell what it takes
	// Who feeds at noon one day and at two the next has a wider time of day, which shows
	// by how far his pauses lie from each other. The nearest of another day is nearer to
	// three quarters of them than nearShare of their mean distance (exponential, to both
	// sides), and towards both ends they lie, say, farThin as far apart. Of n the next then
	// lies outside of all, and by x of those distances, on two days in (n+1) exp(x): that
	// is to be one day in farOnce, which leaves a year's one false alarm to others. More
	// than pauseWide is no time of day, or in the first week twice that, in which a few
	// days may have shown one end of it only. Fish bear it.
	nearShare  = math.Ln2
	farThin    = 1.5
	farOnce    = 10 * 365.0
	pauseWide  = 90 * time.Minute
	pausesKept = 15 * day
	pauseLag   = 5 * time.Minute // it is seen to begin within so long, or it began before
)

// Pause is a time in which all filters of a tank stood still.
type Pause struct {
	From  aquarium.Instant `json:"from"`
	Until aquarium.Instant `json:"until"`
}

// pauses follows the filters standing still together.
type pauses struct {
	from  aquarium.Instant // of the one that is on; 0: none
	known bool             // it has an explanation already: no mains, a visit
	// unwatched: nobody has shown himself at it but by waves that did not come again.
	unwatched bool
	near      time.Duration    // how far from another day's it may have begun to be usual
	long      aquarium.Instant // until when they have stood still for longer than for any feeding; 0: never
	past      [8]Pause         // the last ones that ended, a ring
	n         int
}

// follow looks whether all filters that can be seen stand still.
func (p *pauses) follow(v *view, t *tank) {
	seen, still := 0, 0
	var since, again aquarium.Instant // the last reading of the filters that turned
	for i, s := range t.flows {
		if !s.current(v.now) {
			continue
		}
		seen++
		normal := t.normal(i, v.now)
		// A flow that dies away is gone by its newest reading.
		if least := stallShare * normal; s.value() < least || s.value() < stallBack*normal && s.points[len(s.points)-1].v < least {
			still++
			from, _ := s.run(func(x float64) bool { return x < least })
			since = max(since, from)
		} else if p.from != 0 {
			again = max(again, s.beganTo(func(x float64) bool { return x >= least }))
		}
	}
	switch {
	case seen == 0:
	case still == seen && p.from == 0:
		p.from, p.known, p.unwatched = min(v.now, max(since, v.now.Add(-pauseLag))), false, false
		p.near = t.pausesNear(v)
	case still < seen && p.from != 0 && v.now.Sub(p.from) > pauseMost+afterStop:
		p.from = 0 // one has come to grief, the others run: the next stop is another one
	case still == 0 && p.from != 0:
		if again <= p.from {
			again = v.now
		}
		if d := again.Sub(p.from); !p.known && d >= pauseLeast && d <= pauseMost {
			p.past[p.n%len(p.past)] = Pause{p.from, again}
			p.n++
		}
		p.from = 0
	}
	if p.from != 0 && v.now.Sub(p.from) > pauseMost {
		p.long = v.now
	}
	p.known = p.known || p.from != 0 && (v.w.mains.lost || v.visited(t.config.ID))
}

// beganTo is since when the readings have been so: after a gap as soon as one could
// have said so, for a pause that ends within one was no longer for that. What tells
// its changes only is in no gap before its refresh is missed.
func (s *series) beganTo(be func(v float64) bool) aquarium.Instant {
	from, _ := s.run(be)
	next := s.interval()
	if s.config.OnChange {
		next = s.config.Refresh
	}
	if before := s.upTo(from - 1); len(before) > 0 {
		from = min(from, before[len(before)-1].at.Add(next))
	}
	return from
}

// newest is the last one that ended, zero where there was none.
func (p *pauses) newest() Pause {
	if p.n == 0 {
		return Pause{}
	}
	return p.past[(p.n-1)%len(p.past)]
}

// learnPauses keeps the pauses of the day.
func learnPauses(_ *view, t *tank, l *Learned) {
	kept := slices.DeleteFunc(slices.Clone(l.Pauses), func(p Pause) bool { return p.From < l.Through.Add(-pausesKept) })
	for _, p := range t.pauses.past {
		if p.Until != 0 && p.Until >= l.Through.Add(-day) && p.Until < l.Through {
			kept = append(kept, p)
		}
	}
	slices.SortFunc(kept, func(a, b Pause) int { return int(a.From - b.From) })
	l.Pauses = kept
}

// pausing reports whether the filters stand still as they use to at this time
// of day, and how long that usually takes; 0 where no pause is usual now.
func (t *tank) pausing(v *view) (usual time.Duration, pausing bool) {
	if t.pauses.from == 0 {
		return 0, false
	}
	n, near := 0, false
	for p := range t.pastPauses() {
		apart := apartOfDay(v, p.From, t.pauses.from)
		// What they take is not bound to the minute, nor to the hour where they come at any.
		if t.pauses.from.Sub(p.From) >= day/2 && apart <= max(pauseWide, 2*t.pauses.near) {
			usual = max(usual, p.Until.Sub(p.From))
			near = near || apart <= t.pauses.near
			n++
		}
	}
	if !near {
		return 0, false
	}
	ends := usual
	if n < pausesTell { // one or two may have been short ones
		ends = max(ends, pauseFeeds)
	}
	// How long a pause took, and when it began, is known to a reading, and it is told in time.
	return usual, usual > 0 && (v.now.Sub(t.pauses.from) < ends+max(0, afterStop-2*t.flowInterval()) || t.turnsAgain(v))
}

// turnsAgain reports whether a reading that is not judged before the next comes says that a
// filter turns: the pause is over, or it was a spike.
func (t *tank) turnsAgain(v *view) bool {
	for i, s := range t.flows {
		if s.current(v.now) && s.heard > max(s.latest, s.ignored) && s.saying >= stallBack*t.normal(i, v.now) {
			return true
		}
	}
	return false
}

// asMainsGoes is how far apart the flow's readings and those of mains tell the same: two of
// a minute.
const asMainsGoes = 2 * time.Minute

// leftByCut reports whether the filters stopped as mains went, and another than the i-th
// turns again: at whatever time of day, that is no pause.
func (t *tank) leftByCut(v *view, i int) bool {
	m := &v.w.mains
	if m.lost || m.since == 0 || t.pauses.from.Sub(m.since).Abs() > asMainsGoes {
		return false
	}
	for j := range t.flows {
		if j != i && t.flowing(j, v.now) {
			return true
		}
	}
	return false
}

// A tank that has been known for less than a week may be fed so without lentic
// having seen it once: if all its filters stop by day, they are given firstPause
// before that is told; and until two days were seen, as often as they do, for it may
// be fed more than once a day. It costs a tank with one trouble in its first days
// twelve minutes, and spares each keeper a false alarm by which he would get to know
// lentic.
const (
	firstWeek   = 7 // days
	firstDays   = 2
	firstPause  = 15 * time.Minute
	feedingFrom = aquarium.Clock(7 * 60)
	feedingTo   = aquarium.Clock(22 * 60)
)

// maybeFed reports whether filters that stand still may be the first pause that is
// seen of a tank.
func (t *tank) maybeFed(v *view) bool {
	p := &t.pauses
	if p.from == 0 || p.known || v.now.Sub(p.from) >= firstPause || t.clock < feedingFrom || t.clock >= feedingTo || v.w.mains.lost {
		return false
	}
	days, none := t.learned.Days(), p.n == 0 && len(t.learned.Pauses) == 0
	if days == firstDays { // the first of them began when it was set up
		usual, _ := t.pausing(v)
		return usual == 0
	}
	return days < firstDays || none && days < firstWeek
}

// flowInterval is the longest interval of the filters' flows.
func (t *tank) flowInterval() (d time.Duration) {
	for _, f := range t.config.Equipment.Filters {
		if s := t.sensor(f.Flow); s != nil {
			d = max(d, s.interval())
		}
	}
	return min(d, afterStop)
}

// pastPauses are those of the last days, as learned and since.
func (t *tank) pastPauses() iter.Seq[Pause] {
	return func(yield func(Pause) bool) {
		for i, ps := range [...][]Pause{t.learned.Pauses, t.pauses.past[:]} {
			for _, p := range ps {
				known := p.Until == 0 || i > 0 && slices.Contains(t.learned.Pauses, p)
				if !known && t.pauses.from.Sub(p.From) <= pausesKept && !yield(p) {
					return
				}
			}
		}
	}
}

// pausesNear is how far apart the pauses of different days lie that are at about the same
// time: of those by day, when people feed, as far as they show.
func (t *tank) pausesNear(v *view) time.Duration {
	zone := v.w.site.Timezone
	if c := aquarium.ClockOf(t.pauses.from.In(zone)); c < feedingFrom || c >= feedingTo {
		return pauseNear
	}
	var ps []Pause
	for p := range t.pastPauses() {
		if c := aquarium.ClockOf(p.From.In(zone)); c >= feedingFrom && c < feedingTo {
			ps = append(ps, p)
		}
	}
	var ds []time.Duration
	for _, p := range ps {
		nearest := day
		for _, q := range ps {
			if p.From.Sub(q.From).Abs() >= day/2 {
				nearest = min(nearest, apartOfDay(v, p.From, q.From))
			}
		}
		if nearest < day {
			ds = append(ds, nearest)
		}
	}
	widest := pauseWide
	if t.learned.Days() < firstWeek {
		widest = 2 * pauseWide
	}
	switch n := len(ds); {
	case n >= 2:
		slices.Sort(ds)
		far := farThin / nearShare * math.Log(2*farOnce/float64(n+1)) * float64(ds[(3*n-1)/4])
		return min(widest, max(pauseNear, time.Duration(far)))
	case len(ps) > 0 && t.learned.Days() < firstWeek:
		return widest // one says that the tank is fed so, and not yet when
	}
	return pauseNear
}

// apartOfDay is how far apart two times of day are.
func apartOfDay(v *view, a, b aquarium.Instant) time.Duration {
	zone := v.w.site.Timezone
	d := aquarium.ClockOf(b.In(zone)) - aquarium.ClockOf(a.In(zone)) + dayMinutes/2
	d = (d+dayMinutes)%dayMinutes - dayMinutes/2
	return time.Duration(max(d, -d)) * time.Minute
}
