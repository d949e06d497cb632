package detect

import (
	"testing"
	"time"
)

// TestHungAfterALittle: a level that came down by half a millimetre before its float hung,
// and is known to have a day later, has stood since it was followed anew.
func TestHungAfterALittle(t *testing.T) {
	var x hung
	for at := time.Duration(0); at <= 30*h; at += blockLong {
		mm, wrong := 1-0.4*min(1, at.Hours()/6), 0.25
		if at == 30*h {
			mm, wrong = 0.2, 0.04
		}
		x.take(zero.Add(at), mm, wrong)
	}
	if want := zero.Add(hungLater); x.since != want || x.moved != zero.Add(30*h) {
		t.Errorf("stands since %v, moved at %v; want %v and the last", x.since, x.moved, want)
	}
	x.take(zero.Add(30*h+blockLong), 4, 0.04) // by the top-off
	if x.since != zero.Add(30*h+blockLong) {
		t.Errorf("stands since %v, though water came", x.since)
	}
}
