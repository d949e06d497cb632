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
	} else {
		a, b, n := s.sieve.Judge(s.mesh, screen.Reading{At: at, Value: value, Quality: q})
		if n > 0 {
			s.take(a.At, a.Value, a.Quality)
		}
		if n > 1 {
			s.take(b.At, b.Value, b.Quality)
		}
	}
	s.reckon()
}

// release lets those readings go that no next one will explain, and keeps what
// the screen knows for the day to be learned.
func (t *tank) release(at aquarium.Instant) {
	if t.screen.Holds() {
		for i, s := range t.order {
			if r, ok := t.screen.Free(i, at); ok {
				s.take(r.At, r.Value, r.Quality)
				s.reckon()
			}
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
	frozen  aquarium.Instant // of the last one in the row that was, whatever the others are; 0: none was
}

func (r *refused) take(at aquarium.Instant, v float64, q aquarium.Quality) {
	if q.Judged() {
		if r.since != 0 {
			*r = refused{}
		}
		return
	}
	if r.since == 0 || r.quality != q {
		*r = refused{quality: q, since: at, frozen: r.frozen}
	}
	if q == aquarium.Frozen {
		r.frozen = at
	}
	r.last, r.value = at, v
	r.n++
}

// Refused is the spell of readings that do not count at the moment, as of the last
// tick; false: the sensor's newest reading counts, or nothing is known of it. A
// frozen one begins where the value did that is repeated.
func (w *Watch) Refused(k aquarium.SensorKey) (screen.Spell, bool) {
	s := w.series(k)
	if s == nil {
		return screen.Spell{}, false
	}
	x, ok := s.spells.Now()
	if ok && x.Quality == aquarium.Frozen && s.still.since != 0 && s.still.v == s.refused.value {
		x.From = s.still.since
	}
	return x, ok
}

// Spells are those of a tank's sensors, as far as there are any, from a time on:
// Memory ago, or when the watch began to screen if that was later. One that goes on
// has no end: what came since the last tick is taken for the same until it is
// looked at. False: the tank is not watched.
func (w *Watch) Spells(k aquarium.TankKey) (from aquarium.Instant, of map[aquarium.SensorID][]screen.Spell, ok bool) {
	t := w.places[k.Tank]
	if t == nil || k.Site != w.site.ID || w.now == 0 {
		return 0, nil, false
	}
	of = map[aquarium.SensorID][]screen.Spell{}
	for _, s := range t.order {
		l := s.spells.List()
		if _, open := s.spells.Now(); open {
			l[len(l)-1].To = never
		}
		if len(l) > 0 {
			of[s.config.ID] = l
		}
	}
	return max(w.began, t.screened, w.now.Add(-Memory)), of, true
}
