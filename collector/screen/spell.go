package screen

import (
	"slices"

	"lentic/collector/aquarium"
)

// Spell is a stretch of a sensor's readings, one after the other, that do not
// count, all for one reason: of those from From up to and with To none does.
type Spell struct {
	From, To aquarium.Instant
	Quality  aquarium.Quality
}

// Spells are those of one sensor, in the order of time. The zero value has none.
// One goroutine at a time may use it.
type Spells struct {
	list []Spell
	open bool // the newest reading did not count
}

// Take notes what a reading was found to be. Readings come in the order of time;
// one that does not is passed over.
func (s *Spells) Take(at aquarium.Instant, q aquarium.Quality) {
	n := len(s.list)
	if n > 0 && at <= s.list[n-1].To {
		return
	}
	if q.Judged() {
		s.open = false
		return
	}
	if !s.open || s.list[n-1].Quality != q && !s.wasAir(q) {
		s.list = append(s.list, Spell{From: at, Quality: q})
	}
	last := &s.list[len(s.list)-1]
	last.To, last.Quality, s.open = at, q, true
}

// wasAir reports whether the spell that goes on was taken for outliers until now:
// a probe is in the air from the first reading on that is far, and not from the
// one that tells it.
func (s *Spells) wasAir(q aquarium.Quality) bool {
	return q == aquarium.InAir && s.list[len(s.list)-1].Quality == aquarium.Spike
}

// Now is the spell that goes on; false: the newest reading counts.
func (s *Spells) Now() (Spell, bool) {
	if !s.open {
		return Spell{}, false
	}
	return s.list[len(s.list)-1], true
}

// List is a copy of them.
func (s *Spells) List() []Spell { return slices.Clone(s.list) }

// Forget drops those that were over before then.
func (s *Spells) Forget(before aquarium.Instant) {
	if len(s.list) > 0 && s.list[0].To < before {
		s.list = slices.DeleteFunc(s.list, func(x Spell) bool { return x.To < before })
		s.open = s.open && len(s.list) > 0
	}
}

// Cut takes back what was found of readings after last, which was the newest then
// that did not count; open tells whether it was the newest of all.
func (s *Spells) Cut(last aquarium.Instant, open bool) {
	n := len(s.list)
	for n > 0 && s.list[n-1].From > last {
		n--
	}
	s.list = s.list[:n]
	if n > 0 {
		s.list[n-1].To = min(s.list[n-1].To, last)
	}
	s.open = open && n > 0
}
