package detect

import (
	"slices"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// Memory is how far back any detector looks. It is more than a day, so that
// what a tank does each day has been seen once.
const Memory = 26 * time.Hour

// recent is how much of a series is kept reading by reading: the longest
// stretch a slope is taken over, and some.
const recent = 90 * time.Minute

// point is one judged value.
type point struct {
	at aquarium.Instant
	v  float64
}

// series is what is remembered of one sensor. What is asked for at each tick lies
// together, from the end of config to the pace.
type series struct {
	tank    *tank              // nil: it is the gateway's
	item    string             // of a gateway's own: which
	far     float64            // a jump of it is a hand's; 0: none is
	sieve   *screen.Screen     // nil: its readings are taken as they are
	mesh    int                // its place in the sieve
	waters  bool               // it is the level of the tank
	spanned bool               // span is known
	rank    int32              // in the order of the keys
	next    *series            // whose sample came after its last one
	called  aquarium.SensorKey // the key, in the strings it came in: the same ones are compared at once
	key     aquarium.SensorKey
	config  aquarium.Sensor
	points  []point // judged values within recent, in order of time
	mid     float64 // of the last three points
	// ripe is when the point came whose age says that it is time to forget the oldest.
	ripe aquarium.Instant
	gist
	told   uint8           // which of the causes of sensors have ever spoken of it
	span   span            // of what it can say by its place
	slopes []sloped        // as far as worked out
	best   best            // of hours
	spells screen.Spells   // of readings that did not count, within Memory
	hours  [hoursHeld]past // the last ones, each in its place; the present one is in gist
}

// gist is what the newest readings come to: what a watch that goes back in time
// has to put back besides the points.
type gist struct {
	heard  aquarium.Instant // the newest reading of any quality
	saying float64          // what it said
	latest aquarium.Instant // the newest that is judged; one may be held behind it for a while
	until  aquarium.Instant // ... and up to when that may be taken for present

	// Of a switch: its present value and since when it has it, as far as is known;
	// turned, whether it was seen to have had another before.
	on     bool
	turned bool
	since  aquarium.Instant
	wasOn  aquarium.Instant // when it was last on; 0: not within memory
	gap    gap              // the last one in what it says by the clock

	pace    pace
	hour    hour // the present one
	hand    hand
	still   still
	refused refused
	ignored aquarium.Instant // the newest that is not judged
	wave    wave
}

// hear notes that a reading has come, whatever it is worth.
func (s *series) hear(at aquarium.Instant, value float64) {
	s.pace.take(at)
	if s.heard == 0 && s.tank != nil { // of something long past, perhaps
		s.tank.silent = 0
	}
	if at >= s.heard {
		s.heard, s.saying = at, value
	}
	if s.far > 0 {
		if at.Sub(s.hand.at) > s.unheard() { // what it said before is none of the last three
			s.hand.n = 0
		}
		s.hand.take(at, value, s.far)
	}
	if s.waters {
		s.wave.take(at, value, !s.config.OnChange)
	}
}

// take adds a sample; one older than the newest is put in its place.
func (s *series) take(at aquarium.Instant, value float64, q aquarium.Quality) {
	s.refused.take(at, value, q)
	s.spells.Take(at, q)
	if !q.Judged() {
		s.ignored = max(s.ignored, at)
		s.spells.Forget(at.Add(-Memory))
		return
	}
	p := point{at, value}
	i := len(s.upTo(p.at))
	switch {
	case i > 0 && s.points[i-1].at == p.at:
		return // the first value stands
	case i == len(s.points):
		s.points, s.latest = append(s.points, p), p.at
		s.settle()
		if len(s.points) <= atOnce+2 {
			s.ripen()
		}
		s.enter(p)
		s.turn(p)
	default:
		s.points = slices.Insert(s.points, i, p)
		s.settle()
		s.ripen()
		s.turnAgain()
	}
	s.forget(s.newest().Add(-recent))
}

// settle works out the value that is asked for again and again.
func (s *series) settle() {
	switch n := len(s.points); {
	case n >= 3:
		s.mid = middle(s.points[n-3:])
	case n > 0:
		s.mid = s.points[n-1].v
	}
}

// holdsAfter is how long a flow that is told on change only must have held what it told
// last for that to be no spike: one would have been taken back.
const holdsAfter = time.Minute

// holds reports whether the sensor tells a standstill once: a flow does, that is told
// on change only. A level that splashes and a probe are told again soon enough.
func (s *series) holds() bool { return s.config.OnChange && s.config.Quantity == aquarium.Flow }

// hold takes what such a sensor told last for its value once it has held that: to wait
// for two more changes would be to wait for its refresh.
func (s *series) hold(now aquarium.Instant) {
	if n := len(s.points); s.holds() && n > 0 && now.Sub(s.points[n-1].at) >= holdsAfter {
		s.mid = s.points[n-1].v
	}
}

// newest is the time of the last judged value, 0 where there is none.
func (s *series) newest() aquarium.Instant {
	if n := len(s.points); n > 0 {
		return s.points[n-1].at
	}
	return 0
}

// gap is a time in which a switch was not heard. One of less than gapLeast may be a
// reading that was lost.
type gap struct{ from, to aquarium.Instant }

const gapLeast = 3 * time.Minute

// turn follows a switch to its newest value.
func (s *series) turn(p point) {
	if s.config.Quantity != aquarium.Switch {
		return
	}
	on := p.v >= 0.5
	if n := len(s.points); n > 1 && !s.config.OnChange && p.at.Sub(s.points[n-2].at) > gapLeast {
		s.gap = gap{s.points[n-2].at, p.at}
	}
	if s.since == 0 || on != s.on {
		if on && s.since != 0 {
			s.hour.turns++
		}
		s.turned = s.since != 0
		if s.turned && s.config.OnChange { // until now
			s.wasOn = p.at
		}
		s.on, s.since = on, p.at
	}
	if on {
		s.wasOn = p.at
	}
}

// cameOn is when a switch that is on came on, at the earliest: where it is told by the
// clock, that may be as long before as a reading takes. 0: it is off, or has been on
// for as long as it is known, which is no coming on.
func (s *series) cameOn() aquarium.Instant {
	switch {
	case !s.on || !s.turned:
		return 0
	case s.config.OnChange:
		return s.since
	}
	return s.since.Add(-s.interval())
}

// turnAgain works a switch's present stretch out anew after a value that came
// behind newer ones: what was taken for one stretch may be two.
func (s *series) turnAgain() {
	if s.config.Quantity != aquarium.Switch {
		return
	}
	i := len(s.points) - 1
	for i > 0 && (s.points[i-1].v >= 0.5) == s.on {
		i--
	}
	if i == 0 { // it began before what is kept, perhaps long before
		s.since = min(s.since, s.points[0].at)
		return
	}
	s.since, s.turned = s.points[i].at, true
	if s.on {
		return
	}
	if s.wasOn = s.points[i-1].at; s.config.OnChange {
		s.wasOn = s.since
	}
}

// forget drops what is older, but for the newest point: atOnce at a time, so that
// moving the others costs little.
func (s *series) forget(before aquarium.Instant) {
	last := len(s.points) - 1
	if last < 1 || s.ripe >= before {
		return
	}
	n := min(len(s.upTo(before-1)), last)
	s.points = append(s.points[:0], s.points[n:]...)
	s.settle()
	s.ripen()
}

const atOnce = 64

// ripen notes when the point came that is to be as old as that.
func (s *series) ripen() {
	if last := len(s.points) - 1; last >= 1 {
		s.ripe = s.points[min(atOnce, last-1)].at
	}
}

// value is the median of the last three: one splash or spike is no value; or what is
// held. The caller makes sure that there are points.
func (s *series) value() float64 { return s.mid }

// longestRun bounds how far back run looks: no delay is longer.
const longestRun = 15 * time.Minute

// run is the last readings of which out is true: since when, and how many. A
// lone one proves nothing, but of a flow that is told on change only: what it has told
// once holds, and counts for two.
func (s *series) run(out func(v float64) bool) (since aquarium.Instant, n int) {
	for i := len(s.points) - 1; i >= 0 && out(s.points[i].v); i-- {
		if n > 1 && s.points[len(s.points)-1].at.Sub(s.points[i].at) > longestRun {
			break
		}
		since = s.points[i].at
		n++
	}
	if n == 1 && s.holds() {
		n = 2
	}
	return since, n
}

// current reports whether the sensor's last value may still be taken for the
// present one: an on-change sensor's until it is silent, any other's for three
// of its intervals and at least two minutes, so that gaps of a few readings
// interrupt nothing.
func (s *series) current(t aquarium.Instant) bool {
	return s != nil && len(s.points) > 0 && t <= s.until
}

// lasts reports whether what was read at the first instant may still be taken for
// present at the second.
func (s *series) lasts(at, t aquarium.Instant) bool { return t <= s.outlasts(at) }

// outlasts is up to when it may.
func (s *series) outlasts(at aquarium.Instant) aquarium.Instant {
	switch {
	case !s.config.OnChange:
		return at.Add(max(2*time.Minute, 3*s.interval()))
	case s.config.Refresh == 0:
		return never
	}
	return s.heard.Add(3 * s.config.Refresh)
}

// reckon works out anew, after a reading, what is asked for again and again.
func (s *series) reckon() {
	if n := len(s.points); n > 0 {
		s.until = s.outlasts(s.points[n-1].at)
	}
}

func (s *series) interval() time.Duration {
	if s.config.Every > 0 {
		return s.config.Every
	}
	return s.pace.interval()
}

// window is the points of the last d up to t.
func (s *series) window(t aquarium.Instant, d time.Duration) []point {
	ps := s.upTo(t)
	return ps[within(ps, t.Add(-d)-1):]
}

// holdStep is how far apart what a sensor held is looked at where it tells no more than
// its changes.
const holdStep = time.Minute

// held is the same, and of a sensor that tells its changes only what it held by the
// minute: two changes in ten minutes are a slope, and none is one too.
func (s *series) held(t aquarium.Instant, d time.Duration) []point {
	if !s.config.OnChange {
		return s.window(t, d)
	}
	var ps []point
	for at := t.Add(-d); at <= t; at = at.Add(holdStep) {
		if v, ok := s.at(at); ok {
			ps = append(ps, point{at, v})
		}
	}
	return ps
}

// filled is the points of the last d up to t, and of a sensor that tells its changes only
// what it held between them, by the minute: a refresh is no change, but that there was
// none is as much known as the changes are.
func (s *series) filled(t aquarium.Instant, d time.Duration) []point {
	told := s.window(t, d)
	if !s.config.OnChange {
		return told
	}
	var ps []point
	at := t.Add(-d)
	v, known := s.at(at)
	hold := func(until aquarium.Instant) {
		for ; known && at < until; at = at.Add(holdStep) {
			ps = append(ps, point{at, v})
		}
	}
	for _, p := range told {
		hold(p.at)
		ps = append(ps, p)
		v, known, at = p.v, true, p.at.Add(holdStep)
	}
	hold(t + 1)
	return ps
}

// step is how far apart filled's points are, at the most.
func (s *series) step() time.Duration {
	if s.config.OnChange {
		return holdStep
	}
	return s.interval()
}

// upTo is the points that are no newer than t.
func (s *series) upTo(t aquarium.Instant) []point {
	n := len(s.points)
	if n == 0 || s.points[n-1].at <= t { // as nearly always
		return s.points
	}
	return s.points[:within(s.points, t)]
}

// within is how many of the points are no newer than t. Readings come evenly but for
// gaps, so it is looked for first where it would be then, and some places beside.
func within(ps []point, t aquarium.Instant) int {
	lo, hi := 0, len(ps)
	if hi == 0 || ps[0].at > t {
		return 0
	} else if ps[hi-1].at <= t {
		return hi
	}
	from := ps[0].at
	i := min(int(float64(t-from)*float64(hi-1)/float64(ps[hi-1].at-from))+1, hi-1) // a division of floats takes half the time
	for range withinBeside {
		switch {
		case ps[i].at <= t: // the last one is newer
			i++
			lo = i
		case ps[i-1].at > t: // the first one is not
			i--
			hi = i
		default:
			return i
		}
	}
	for lo < hi {
		if m := (lo + hi) / 2; ps[m].at <= t {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}

// withinBeside is how many places are looked at before the rest is halved.
const withinBeside = 3

// at is the last value at or before t, false where none is kept.
func (s *series) at(t aquarium.Instant) (float64, bool) {
	ps := s.upTo(t)
	if len(ps) == 0 {
		return 0, false
	}
	return ps[len(ps)-1].v, true
}
