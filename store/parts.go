package store

import (
	"iter"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// part is a stretch of time that is read from one place: the rows of a level,
// or the readings.
type part struct {
	from, to aquarium.Instant
	level    *level // nil: the readings
}

// parting splits a time up that is summed up in stretches of a width: into
// whole rows of one level, and what lies in rows that an end of a stretch, or of
// it all, cuts in two.
type parting struct {
	from, to aquarium.Instant
	width    time.Duration
	level    *level // nil: no row is ever whole
	// dirty is what is pending of: it is in no rows yet.
	dirty []part
	// Before readings they may be forgotten, but for their sums by the
	// minute; before minutes those too.
	readings, minutes aquarium.Instant
}

// levelFor is the level whose rows cost least to make stretches of that width
// of. Where the width is no multiple of a row, readings are decoded at each end
// of a stretch: longer rows then cost more of these, and pay where there are few
// ends to a block.
func levelFor(width time.Duration) *level {
	for i := len(levels) - 1; i >= 0; i-- {
		if width%levels[i].step == 0 {
			return &levels[i]
		}
	}
	switch {
	case width >= stretch:
		return &levels[1]
	case width >= 2*levels[0].step:
		return &levels[0]
	}
	return nil
}

// parting is how sums of a series are read. What is asked for is cut to where
// there may be readings.
func (s *Store) parting(x *series, from, to aquarium.Instant, width time.Duration) parting {
	p := parting{
		from: from, to: to, width: width, level: levelFor(width),
		readings: s.horizon(s.opt.Keep).Ceil(minutes.step), minutes: s.horizon(s.opt.KeepMinutes).Ceil(levels[0].step),
	}
	s.rlock()
	defer s.mu.RUnlock()
	if x.first > x.last {
		p.level, p.readings = nil, never // all there is is pending
		return p
	}
	first, last := x.first, x.last
	for start, o := range x.group.open {
		if o.heads[x.number] != nil {
			p.dirty = append(p.dirty, part{from: start, to: start.Add(stretch)})
			first, last = min(first, start), max(last, start)
		}
	}
	// Nothing lies before the first block or after the last but pending, so
	// that to ask for all there may ever be takes no longer. Whole days are
	// whole rows of every level.
	p.from, p.to = max(from, first.Floor(day)), min(to, last.Add(stretch).Ceil(day))
	return p
}

// pending reports whether anything was of the stretch that begins there.
func (p *parting) pending(start aquarium.Instant) bool {
	return slices.ContainsFunc(p.dirty, func(d part) bool { return d.from == start })
}

// all are the parts, one after another.
func (p *parting) all() iter.Seq[part] {
	return func(yield func(part) bool) {
		for at := p.from; at < p.to; {
			next := p.next(at)
			if !yield(next) {
				return
			}
			at = next.to
		}
	}
}

// next is the part that begins at a time.
func (p *parting) next(at aquarium.Instant) part {
	if p.level == nil {
		return p.within(at, p.to)
	}
	if end := p.whole(at); end > at {
		return part{at, end, p.level}
	}
	end := at
	for end < p.to && p.whole(end) == end {
		end = min(p.to, end.Floor(p.level.step).Add(p.level.step))
	}
	return p.within(at, end)
}

// whole is where the rows end that begin at a time, belong to one stretch each,
// and have all that there is of their time; that time, where there are none.
func (p *parting) whole(at aquarium.Instant) aquarium.Instant {
	step := p.level.step
	if at.Floor(step) != at {
		return at
	}
	end := p.to.Floor(step)
	if p.width%step != 0 {
		end = min(end, at.Floor(p.width).Add(p.width).Floor(step))
	}
	for _, d := range p.dirty {
		if d.to.Ceil(step) > at {
			end = min(end, d.from.Floor(step))
		}
	}
	return max(at, end)
}

// within is where a time within rows is read from, or its beginning.
func (p *parting) within(from, to aquarium.Instant) part {
	switch {
	case from < p.minutes && p.level != nil:
		return part{from, min(to, p.minutes), &levels[0]}
	case from < p.readings:
		return part{from, min(to, p.readings), &minutes}
	}
	return part{from, to, nil}
}
