package detect

import (
	"time"
)

// Where the valve holds the pH with less than half of its time, what comes while it is open
// is more than twice what leaves, plants at noon included. A pH that rises all the same,
// steadily and by more than the error of a line through it, gets next to none of it, wherever
// in its band it is: a wide one takes an hour and more to cross. Common practice, no source.
const (
	risesErrors = 4
	risesLeast  = 0.012 // pH from its first third to its last
	risesShare  = 0.3   // of which lies between the last two, at the least
	risesParts  = 7     // of none of which to the next it rises by more than risesMost of the whole,
	risesMost   = 0.5   // as a probe does that is calibrated
)

// risesOpen reports whether the pH has risen for vainOver though its valve is open, all that
// time, and is known to hold it with less than half of its time.
func (t *tank) risesOpen(v *view, g *gas) bool {
	if x := t.parts.valve; x == nil || !x.on || v.now.Sub(x.since) < vainOver || g.fallen(v, vainOver) > -risesLeast/2 || !t.ample() { // as nearly always
		return false
	}
	ps := g.ph.held(v.now.Floor(time.Minute), vainOver)
	n := len(ps) / 3
	if n < 2 || stepped(ps) || !evenly(ps) {
		return false
	}
	first, middle, last := mean(ps[:n]), mean(ps[n:len(ps)-n]), mean(ps[len(ps)-n:])
	if last-first < risesLeast || last-middle < risesShare*(last-first) {
		return false
	}
	slope, sure := goes(ps, risesErrors)
	return sure && slope >= leaves
}

// evenly reports whether points rise bit by bit.
func evenly(ps []point) bool {
	n := len(ps) / risesParts
	if n == 0 {
		return false
	}
	part := func(i int) float64 { return mean(ps[i*n : (i+1)*n]) }
	most := 0.0
	for i := 1; i < risesParts; i++ {
		most = max(most, part(i)-part(i-1))
	}
	return most <= risesMost*(part(risesParts-1)-part(0))
}
