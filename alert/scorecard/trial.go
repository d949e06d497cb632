package main

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"lentic/alert"
	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/sim"
)

// outcome is what became of one trial.
type outcome struct {
	scenario string
	grade    int
	view     view
	seed     uint64
	blind    bool // by what the view shows it cannot be told
	at, end  aquarium.Instant
	due      aquarium.Instant // 0: the words never came true
	says     string           // which words
	raised   aquarium.Instant // 0: never
	cause    aquarium.Cause
	again    int      // how often it was raised again after it had returned
	early    bool     // it stood before anything was wrong
	wrong    []string // what else was told, with when
	names    []aquarium.Cause
	why      []string // it was not told by its deadline
	// projected is how many days off the projected day was whenever it was
	// told.
	projected []projection
}

// projection is by how many days a projected day was too late, and the share of
// the flow that was gone when it was told.
type projection struct{ off, gone float64 }

// inTime: told by its deadline, and not before it began.
func (o outcome) inTime() bool { return o.raised != 0 && !o.early && o.raised <= o.due }

// tries runs every trial of one seed under one view, those that take weeks only
// where that is asked for.
func tries(seed uint64, slow bool, v view, all []scenario) (os []outcome) {
	b := newBase(seed, v)
	b.learn()
	for _, s := range all {
		if s.slow && !slow {
			continue
		}
		for g := range s.grades {
			os = append(os, b.try(s, g))
		}
	}
	return os
}

// try is one trial: first the tank alone, to see when its words come true, then
// the same tank with the judgement looking on.
func (b *base) try(s scenario, g int) outcome {
	o := outcome{scenario: s.name, grade: g, view: b.view, seed: b.seed, at: b.begins(s, g)}
	if o.blind = b.blind(s); o.blind {
		return o
	}
	plan := b.plan(s, g, o.at)
	o.end = o.at.Add(s.lasts)
	gone := b.await(s, plan, &o)
	if o.due != 0 {
		o.end = min(o.end, o.due.Add(late(o.due.Sub(o.at))))
	}
	b.judge(s, plan, &o, gone)
	if o.due != 0 && !o.early && !o.inTime() {
		o.why = alert.Untold(b.site, b.learned, b.feed(s, plan, &o).samples(split.Add(-warmUp), o.due), b.journal, split, o.due, b.config.ID, s.causes)
	}
	return o
}

// plan is what happens in a trial that begins at that moment.
func (b *base) plan(s scenario, g int, at aquarium.Instant) []sim.Planned {
	ps := s.grades[g].plan(at)
	if s.visit != nil {
		v := *s.visit
		v.At = at
		ps = append(ps, v.Plan(b.config, site.ID, b.seed)...)
	}
	return ps
}

// late is how long after its deadline an alarm is still waited for.
func late(took time.Duration) time.Duration { return max(2*hour, took/4) }

// begins draws when in the day it begins.
func (b *base) begins(s scenario, g int) aquarium.Instant {
	h := fnv.New64a()
	h.Write([]byte(s.name))
	x := rand.New(rand.NewPCG(h.Sum64(), b.seed*8+uint64(g))).Float64()
	return split.Add(time.Duration((s.from + (s.to-s.from)*x) * float64(hour))).Ceil(aquarium.Step)
}

// blind reports whether what is seen of the tank cannot show any of the causes.
func (b *base) blind(s scenario) bool {
	if len(s.causes) == 0 {
		return false
	}
	for _, x := range detect.Sight(b.site, b.site.Tanks[0]) {
		if slices.Contains(s.causes, x.Cause) && (x.Blind == "" || x.Blind == unjudged) {
			return false
		}
	}
	return true
}

// unjudged is what detect says of a cause that it does not look for at all: that
// is a miss, and no excuse.
const unjudged = "not judged by this version"

// await lets the tank alone live until its words come true, and returns when
// that was.
func (b *base) await(s scenario, plan []sim.Planned, o *outcome) aquarium.Instant {
	tank, r := b.trunk.With(plan...), s.by.start(b.view.every)
	tank.Advance(o.at.Add(-aquarium.Step))
	for at := o.at; at <= o.end; at = at.Add(aquarium.Step) {
		tank.Advance(at)
		r.see(moment{at: at, began: o.at, tank: tank, truth: tank.Truth(), config: &b.config, told: b.view.switches})
		if r.due != 0 && at >= r.due {
			break
		}
	}
	o.due, o.says = r.due, r.says
	return r.due.Add(-2 * b.view.every)
}

// feed is what the trial's tank sends.
func (b *base) feed(s scenario, plan []sim.Planned, o *outcome) *feed {
	f := &feed{tank: b.trunk.With(plan...), view: b.view, site: b.site, phase: phase(b.seed), after: after(b.seed)}
	if s.clock {
		f.wrong = o.at
	}
	return f
}

// judge replays the trial and notes what is told.
func (b *base) judge(s scenario, plan []sim.Planned, o *outcome, gone aquarium.Instant) {
	f := b.feed(s, plan, o)
	tank := f.tank
	standing := map[aquarium.Cause]bool{}
	alert.Resume(b.site, b.learned, f.samples(split.Add(-warmUp), o.end), b.journal, split, o.end, func(t aquarium.Transition) {
		c := t.Identity.Cause
		fits := slices.Contains(s.causes, c)
		if c == aquarium.FilterClogging && t.Projected != 0 && gone > 0 && t.Identity.Equipment == "a" && t.At >= o.at {
			o.projected = append(o.projected, projection{t.Projected.Sub(gone).Hours() / 24, 1 - tank.Filter("a").Share})
		}
		switch t.Event {
		case aquarium.Raised, aquarium.Renamed:
		case aquarium.Worsened:
			if fits && t.At >= o.at && o.raised == 0 {
				o.raised, o.cause = t.At, c // what was on the page only is told now
			}
			return
		case aquarium.Returned, aquarium.OutOfService:
			delete(standing, c)
			return
		default:
			return
		}
		if t.At < o.at {
			standing[c] = true
			return
		}
		switch {
		case fits && o.raised == 0:
			o.raised, o.cause = t.At, c
			o.early = standing[c]
		case fits && c == o.cause && t.Event == aquarium.Raised:
			o.again++
		case fits, slices.Contains(s.also, c), t.PageOnly:
		case c == aquarium.Unusual && len(s.causes) > 0: // true, and no wrong name: it names nothing
		case excused(c, moment{at: t.At, began: o.at, tank: tank, truth: tank.Truth(), config: &b.config}):
		default:
			o.names = append(o.names, c)
			o.wrong = append(o.wrong, fmt.Sprintf("%s/%s after %s", c, t.Identity.Equipment, t.At.Sub(o.at).Round(time.Second)))
		}
	})
	for c := range standing {
		if slices.Contains(s.causes, c) && o.raised == 0 {
			o.early = true
		}
	}
}

// line is a miss in words.
func (o outcome) line(s scenario) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s, %s, seed %d, began %s: ", s.name, s.grades[o.grade].says, o.view, o.seed, o.at.Time().Format("2 15:04:05"))
	switch {
	case len(s.causes) == 0:
		fmt.Fprintf(&b, "nothing was wrong")
	case o.early:
		fmt.Fprintf(&b, "stood before it began")
	case o.raised == 0:
		fmt.Fprintf(&b, "never told; %s: due after %s", o.says, o.due.Sub(o.at))
	default:
		fmt.Fprintf(&b, "told as %s after %s; %s: due after %s", o.cause, o.raised.Sub(o.at), o.says, o.due.Sub(o.at))
	}
	if o.again > 0 {
		fmt.Fprintf(&b, "; told again %d times", o.again)
	}
	if len(o.wrong) > 0 {
		fmt.Fprintf(&b, "; told: %s", strings.Join(o.wrong, ", "))
	}
	if len(o.why) > 0 {
		fmt.Fprintf(&b, "; at the deadline %s", strings.Join(o.why, ", "))
	}
	return b.String()
}
