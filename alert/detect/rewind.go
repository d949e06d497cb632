package detect

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// A reading that comes out of order would change what earlier ticks found: a
// delay that was restarted for want of it would stay restarted, and the same
// readings in another order would raise the same alarm minutes apart. So a
// watch remembers how it stood at each of the last whole minutes, goes back to
// before such a reading, and judges the ticks since then again. What has been
// told meanwhile is not taken back.

// rewinds is how far it can go back, and some: what is older than ten minutes
// comes late and is judged from the store.
const rewinds = 12

// moment is a watch after a tick, but for what has been told and for points,
// which only grow.
type moment struct {
	at             aquarium.Instant
	heard, resumed aquarium.Instant
	mains          mains
	courses        []course
	screens        []screen.State
	gists          []heldGist
	verdicts       []heldVerdict
}

type heldGist struct {
	of *series
	gist
}

type heldVerdict struct {
	of *state
	verdict
}

// remember keeps the watch as it is after a tick.
func (w *Watch) remember() {
	var m moment
	if len(w.moments) == rewinds { // the oldest one's room is used again
		m = w.moments[0]
		w.moments = slices.Delete(w.moments, 0, 1)
	}
	m.at, m.heard, m.resumed, m.mains = w.now, w.heard, w.resumed, w.mains
	m.courses, m.gists, m.verdicts = m.courses[:0], m.gists[:0], m.verdicts[:0]
	for _, t := range w.tanks {
		m.courses = append(m.courses, t.course)
	}
	m.screens = slices.Grow(m.screens, len(w.tanks))[:len(w.tanks)]
	for i, t := range w.tanks {
		t.screen.Save(&m.screens[i])
	}
	for s := range w.every() {
		m.gists = append(m.gists, heldGist{s, s.gist})
	}
	for _, s := range w.order {
		m.verdicts = append(m.verdicts, heldVerdict{s, s.verdict})
	}
	w.moments = append(w.moments, m)
	if n := upTo(w.taken, w.moments[0].at); n > len(w.taken)/2 { // moved rarely, so that it costs little
		w.taken = slices.Delete(w.taken, 0, n)
	}
}

// restore puts the watch back to a moment.
func (w *Watch) restore(m *moment) {
	w.now, w.heard, w.resumed, w.mains = m.at, m.heard, m.resumed, m.mains
	for i, t := range w.tanks {
		t.course, t.silent = m.courses[i], 0
		t.screen.Restore(&m.screens[i])
	}
	for s := range w.every() {
		s.gist, s.best, s.slopes = gist{}, best{}, s.slopes[:0]
	}
	for _, h := range m.gists {
		h.of.gist = h.gist
	}
	for s := range w.every() {
		s.points = s.upTo(s.latest)
		s.settle()
		s.ripen()
		s.spells.Cut(s.ignored, s.refused.since != 0)
	}
	for _, s := range w.order {
		s.verdict = verdict{last: s.last} // as of what was told, until its cause speaks
	}
	for _, h := range m.verdicts {
		h.of.verdict = h.verdict
	}
}

// rewind takes in samples that belong before the last tick, and judges again
// what has been judged since the oldest of them.
func (w *Watch) rewind(belated []heard) {
	i := len(w.moments) - 1
	for i > 0 && w.moments[i].at >= belated[0].at {
		i--
	}
	if i < 0 { // nothing to go back to: they count from now on
		w.take(belated)
		return
	}
	last := w.now
	w.restore(&w.moments[i])
	back := w.now
	w.moments = w.moments[:i+1]
	n := upTo(w.taken, back)
	again := append(slices.Clone(w.taken[n:]), belated...)
	w.taken = w.taken[:n]
	inOrder(again)
	for at := back.Add(aquarium.Step); at <= last; at = at.Add(aquarium.Step) {
		n := upTo(again, at)
		w.judge(at, again[:n])
		again = again[n:]
	}
	for _, s := range w.order {
		s.keepTold(back)
	}
}

// keepTold takes nothing back of what was told after a moment that was judged
// again: what was told stands until it has been over for its delay, and what was
// told to be over stays so unless it is true now.
func (s *state) keepTold(back aquarium.Instant) {
	switch {
	case s.shown != nothing:
		s.stands = true
	case s.ended > back && s.trueFrom == 0:
		s.stands = false
	}
}

// belated are those of the samples that belong before the last tick and were
// not there then.
func (w *Watch) belated(xs []heard) (out []heard) {
	for _, x := range xs {
		if !w.has(x) {
			out = append(out, x)
		}
	}
	return out
}

// has reports whether a sample of that sensor and time was taken in lately.
func (w *Watch) has(x heard) bool {
	for _, y := range w.taken[upTo(w.taken, x.at-1):upTo(w.taken, x.at)] {
		if y.of == x.of {
			return true
		}
	}
	return false
}

// upTo is how many of the samples, which are in the order of time, are no newer
// than t.
func upTo(xs []heard, t aquarium.Instant) int {
	n, _ := slices.BinarySearchFunc(xs, t+1, func(x heard, t aquarium.Instant) int { return cmp.Compare(x.at, t) })
	return n
}

// inOrder sorts samples by time; of two for one sensor and time the one that
// came first stays first. Most are in order already.
func inOrder(xs []heard) {
	moved := 0
	for i := 1; i < len(xs); i++ {
		if !xs[i].before(&xs[i-1]) {
			continue
		}
		x, k := xs[i], i
		for ; k > 0 && x.before(&xs[k-1]); k-- {
			xs[k] = xs[k-1]
		}
		xs[k] = x
		moved += i - k
		if moved > 16*len(xs) { // it is no longer the fewest steps
			slices.SortStableFunc(xs, func(a, b heard) int {
				return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.rank, b.rank))
			})
			return
		}
	}
}

func (x *heard) before(y *heard) bool { return x.at < y.at || x.at == y.at && x.rank < y.rank }
