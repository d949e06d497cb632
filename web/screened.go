package web

import (
	"context"
	"errors"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// screenedMost is the longest stretch in which readings that do not count are set
// apart: it is drawn from the readings themselves. Beyond it sums are drawn, which
// tell only of what cannot be.
const screenedMost = 8 * day

// verdicts say which readings of a tank do not count within a stretch, by what
// their screening found. Nil says nothing: what each reading says of itself stands.
type verdicts struct {
	of    map[aquarium.SensorID][]screen.Spell
	whole bool // of all of the stretch
}

// verdicts are those of from <= At < to, nil where the stretch is too long or the
// site is about to be judged anew. The watch remembers about a day; with past what
// came before is screened once more, which may take a second where it is asked for
// the first time.
func (s *Server) verdicts(ctx context.Context, k aquarium.TankKey, from, to aquarium.Instant, past bool) *verdicts {
	if to.Sub(from) > screenedMost {
		return nil
	}
	since, lately, ok := s.Desk.Spells(k)
	if !ok {
		return nil
	}
	if from >= since {
		return &verdicts{lately, true}
	}
	if !past || s.Before == nil {
		return &verdicts{lately, false}
	}
	all, err := s.Before(ctx, k, from, min(to, since))
	if err != nil {
		if !errors.Is(err, context.Canceled) {
			s.Log.Error("readings not screened", "site", k.Site, "tank", k.Tank, "err", err)
		}
		return &verdicts{lately, false}
	}
	return &verdicts{joined(all, lately, since), true}
}

// joined is what was before since, and what the watch remembers from there on. The
// first is taken over.
func joined(before, lately map[aquarium.SensorID][]screen.Spell, since aquarium.Instant) map[aquarium.SensorID][]screen.Spell {
	for id, xs := range before {
		n := len(xs)
		for n > 0 && xs[n-1].From >= since {
			n--
		}
		if xs = xs[:n]; n > 0 {
			xs[n-1].To = min(xs[n-1].To, since-1)
		}
		before[id] = xs
	}
	for id, xs := range lately {
		for _, x := range xs {
			if x.To >= since {
				x.From = max(x.From, since)
				before[id] = append(before[id], x)
			}
		}
	}
	return before
}

// told reports whether all of a stretch is told of.
func (v *verdicts) told() bool { return v != nil && v.whole }

// mark gives the samples of a sensor, which come in the order of their times, the
// quality that was found, and hands them to fn.
func (v *verdicts) mark(id aquarium.SensorID, fn func(aquarium.Sample) bool) func(aquarium.Sample) bool {
	if v == nil || len(v.of[id]) == 0 {
		return fn
	}
	spells := v.of[id]
	return func(x aquarium.Sample) bool {
		for len(spells) > 0 && spells[0].To < x.At {
			spells = spells[1:]
		}
		if len(spells) > 0 && x.At >= spells[0].From && x.Quality.Judged() {
			x.Quality = spells[0].Quality
		}
		return fn(x)
	}
}
