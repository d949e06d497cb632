package detect

import (
	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// Every reading of a tank is screened before it counts (package screen). What the
// screen knows of the sensors takes two weeks to learn, so it is Learned too: as
// of some time before a day's end, so that a warm-up over Memory, whenever it is
// made, begins before that and screens all that is kept reading by reading.
const screenedBefore = Memory - day - learnAfter // of the day's end

// screened hands a reading to its series once the screen has said what it is. It
// is heard in any case.
func (s *series) screened(at aquarium.Instant, value float64, q aquarium.Quality) {
	s.hear(at, value)
	if s.sieve == nil {
		s.take(at, value, q)
		return
	}
	out, n := s.sieve.Judge(s.mesh, screen.Reading{At: at, Value: value, Quality: q})
	for _, r := range out[:n] {
		s.take(r.At, r.Value, r.Quality)
	}
}

// release lets those readings go that no next one will explain, and keeps what
// the screen knows for the day to be learned.
func (t *tank) release(at aquarium.Instant) {
	for i, s := range t.order {
		if r, ok := t.screen.Free(i, at); ok {
			s.take(r.At, r.Value, r.Quality)
		}
	}
	if end := t.screenDay.Add(day - screenedBefore); at >= end {
		t.screenDay = at.Add(screenedBefore).Floor(day)
		kept := new(screen.State)
		t.screen.Save(kept)
		t.screenKept = kept
	}
}

// learnScreen keeps what the screen knew before the day's end.
func learnScreen(_ *view, t *tank, l *Learned) {
	if t.screenKept != nil {
		l.Screen = t.screenKept
	}
}

// refused is what the last readings were that were not judged.
type refused struct {
	quality aquarium.Quality
	since   aquarium.Instant // of the first in a row; 0: the last one was judged
	last    aquarium.Instant
	value   float64 // the last one
	n       int
}

func (r *refused) take(at aquarium.Instant, v float64, q aquarium.Quality) {
	if q.Judged() {
		*r = refused{}
		return
	}
	if r.since == 0 || r.quality != q {
		*r = refused{quality: q, since: at}
	}
	r.last, r.value = at, v
	r.n++
}
