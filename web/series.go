package web

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// Query is a stretch of one sensor, From <= t < To, to be drawn in at most
// Points steps.
type Query struct {
	From, To aquarium.Instant
	Points   int // at least 1
	// Held says that a value holds until the next, but no longer than Hold:
	// its mean is then by time, and not by number of readings. What is
	// still held counts until Until, which is To or now if that is sooner.
	Held  bool
	Hold  time.Duration
	Until aquarium.Instant
}

// Series is a stretch of samples, raw or in buckets of equal width. The four
// columns have one length. A bucket without readings is absent.
type Series struct {
	Width          time.Duration // of a bucket; 0: raw values, Min = Mean = Max
	T              []aquarium.Instant
	Min, Mean, Max []float64
	// Poor marks the values that are not to be judged: a bucket is poor
	// where it has no others. Nil: none.
	Poor []bool
	// Uncounted are the readings that are not to be judged, apart from the
	// others: bucket by bucket, or one by one.
	Uncounted []page.Uncounted
}

// Bucketed draws a query from samples, which each gives oldest first. For held
// values each should begin Hold before From, so that the value in force at From
// is known. Fewer samples than Points within the stretch are given raw.
func Bucketed(q Query, each func(fn func(aquarium.Sample) bool) error) (Series, error) {
	b := builder{q: q, width: Width(q.From, q.To, q.Points)}
	if err := each(func(v aquarium.Sample) bool {
		b.add(v)
		return true
	}); err != nil {
		return Series{}, err
	}
	b.hold(q.Until)
	if b.n < q.Points {
		return rawSeries(b.raw), nil
	}
	return b.series(), nil
}

// Width is the width of a query's buckets: a whole number of seconds, at least
// one, such that at most points buckets aligned to the Unix epoch cover
// from <= t < to.
func Width(from, to aquarium.Instant, points int) time.Duration {
	span := to - from
	if span <= 0 || points < 1 {
		return time.Second
	}
	w := wholeSeconds(span, points)
	switch {
	case buckets(from, to, w) <= points:
	case points > 1: // the first and last bucket are cut: make room for one more
		w = wholeSeconds(span, points-1)
	default: // until no multiple of it lies within
		for buckets(from, to, w) > 1 {
			w *= 2
		}
	}
	return time.Duration(w) * time.Millisecond
}

func wholeSeconds(span aquarium.Instant, points int) aquarium.Instant {
	seconds := (span + aquarium.Instant(points)*1000 - 1) / (aquarium.Instant(points) * 1000)
	return max(1, seconds) * 1000
}

func buckets(from, to, width aquarium.Instant) int {
	w := time.Duration(width) * time.Millisecond
	return int(((to-1).Floor(w)-from.Floor(w))/width) + 1
}

// bucket gathers the samples of one bucket, those to be judged apart from the
// rest.
type bucket struct {
	start        aquarium.Instant
	good, poor   tally
	area, weight float64                     // of held values, by time
	why          [aquarium.Retimed + 1]int32 // readings of each quality
}

// uncounted is what the bucket has of readings that are not to be judged. Of
// several reasons the one with most of them is named.
func (c *bucket) uncounted() page.Uncounted {
	q := aquarium.OutOfRange
	for k, n := range c.why {
		if n > c.why[q] {
			q = aquarium.Quality(k)
		}
	}
	return page.Uncounted{T: c.start, Min: c.poor.min, Mean: min(max(c.poor.sum/float64(c.poor.n), c.poor.min), c.poor.max), Max: c.poor.max, N: c.poor.n, Quality: q}
}

type tally struct {
	n        int // readings
	sum      float64
	any      bool // min and max are set
	min, max float64
}

func (t *tally) add(v float64) {
	t.reach(v)
	t.n++
	t.sum += v
}

// reach widens the extent without counting a reading.
func (t *tally) reach(v float64) {
	if !t.any {
		t.any, t.min, t.max = true, v, v
	}
	t.min, t.max = min(t.min, v), max(t.max, v)
}

type builder struct {
	q       Query
	width   time.Duration
	n       int               // samples within the stretch
	raw     []aquarium.Sample // the first of them
	buckets []bucket
	last    aquarium.Sample // held now; At 0: nothing is
}

func (b *builder) add(v aquarium.Sample) {
	if v.At >= b.q.To {
		return
	}
	if v.At < b.q.From {
		b.remember(v)
		return
	}
	if b.n++; b.n <= b.q.Points {
		b.raw = append(b.raw, v)
	}
	start := v.At.Floor(b.width)
	if n := len(b.buckets); n == 0 || b.buckets[n-1].start != start {
		b.hold(start) // what was held reaches to the end of its own bucket
		b.buckets = append(b.buckets, bucket{start: start})
	}
	b.hold(v.At)
	now := &b.buckets[len(b.buckets)-1]
	if v.Quality.Judged() {
		now.good.add(v.Value)
	} else {
		now.poor.add(v.Value)
		now.why[v.Quality]++
	}
	b.remember(v)
}

// remember notes what is held from v on: nothing, when v is not to be judged.
func (b *builder) remember(v aquarium.Sample) {
	b.last = aquarium.Sample{}
	if b.q.Held && v.Quality.Judged() {
		b.last = v
	}
}

// hold weighs the value held with the time it was in force within the newest
// bucket, up to and without until.
func (b *builder) hold(until aquarium.Instant) {
	if b.last.At == 0 || len(b.buckets) == 0 {
		return
	}
	now := &b.buckets[len(b.buckets)-1]
	from := max(b.last.At, b.q.From, now.start)
	to := min(until, b.q.Until, b.last.At.Add(b.q.Hold), now.start.Add(b.width), b.q.To)
	if to <= from {
		return
	}
	now.weight += float64(to - from)
	now.area += float64(to-from) * b.last.Value
	now.good.reach(b.last.Value)
}

func (b *builder) series() Series {
	s := Series{Width: b.width}
	for i := range b.buckets {
		c := &b.buckets[i]
		t := &c.good
		poor := t.n == 0 && c.weight == 0
		if poor {
			t = &c.poor
		}
		mean := t.sum / float64(t.n)
		if c.weight > 0 {
			mean = c.area / c.weight
		}
		if c.poor.n > 0 {
			s.Uncounted = append(s.Uncounted, c.uncounted())
		}
		s.push(c.start, t.min, min(max(mean, t.min), t.max), t.max, poor) // sums round; a mean lies within
	}
	return s
}

func rawSeries(raw []aquarium.Sample) Series {
	var s Series
	for _, v := range raw {
		if !v.Quality.Judged() {
			s.Uncounted = append(s.Uncounted, page.Uncounted{T: v.At, Min: v.Value, Mean: v.Value, Max: v.Value, N: 1, Quality: v.Quality})
		}
		s.push(v.At, v.Value, v.Value, v.Value, !v.Quality.Judged())
	}
	return s
}

func (s *Series) push(t aquarium.Instant, lo, mean, hi float64, poor bool) {
	if poor && s.Poor == nil {
		s.Poor = make([]bool, len(s.T))
	}
	s.T = append(s.T, t)
	s.Min, s.Mean, s.Max = append(s.Min, lo), append(s.Mean, mean), append(s.Max, hi)
	if s.Poor != nil {
		s.Poor = append(s.Poor, poor)
	}
}

// regular is how many steps tell an interval by themselves.
const regular = 12

// Gap is the longest step that a line may join: three intervals, and the width
// of a bucket, whose time is that of its start. Where the interval is not known
// it is taken from the steps themselves; so it is where a fifth of them is longer,
// for a device may have reported less often then than it does now.
func (s Series) Gap(every time.Duration) time.Duration {
	if every <= 0 {
		every = s.step(0.5)
	} else if often := s.step(0.8); len(s.T) > regular && often > s.Width {
		every = max(every, often)
	}
	return 3*every + s.Width
}
