package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// flows is a filter over days: its flow at the end of each, in l/h. Lines lie in
// between. Each noon it stands still for the minutes said.
func flows(start float64, pause int, ends ...float64) string {
	var b strings.Builder
	at, v := 0, start
	for i, end := range ends {
		noon := v + (end-v)/2
		fmt.Fprintf(&b, "%dm:%g ", at, v)
		if pause > 0 {
			fmt.Fprintf(&b, "%dm:%g %dm:0 %dm:0 %dm:%g ", at+719, noon, at+720, at+720+pause, at+721+pause, noon)
		}
		at, v = (i+1)*24*60, end
	}
	fmt.Fprintf(&b, "%dm:%g", at, v)
	return b.String()
}

func declining(start, perDay float64, days int) (ends []float64) {
	for i := 1; i <= days; i++ {
		ends = append(ends, start-perDay*float64(i))
	}
	return ends
}

// TestClogging: told when a fifth is gone and before a third is, with the day it
// comes to its limit right to five days; over once it is cleaned.
func TestClogging(t *testing.T) {
	for _, c := range []struct {
		name   string
		perDay float64 // l/h of 900
		days   int
	}{{"in four days", 75, 5}, {"in three weeks", 14, 22}, {"in three months", 3.3, 90}} {
		t.Run(c.name, func(t *testing.T) {
			site := library()
			ends := append([]float64{900, 900, 900, 900}, declining(900, c.perDay, c.days)...)
			s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: time.Duration(len(ends)+2) * day}
			cleaned := zero.Add(time.Duration(len(ends))*day + 10*h)
			s.paths["flow-a"] = flows(900, 10, ends...) + fmt.Sprintf(" %dm:%g %dm:0 %dm:0 %dm:895", len(ends)*1440+600, ends[len(ends)-1], len(ends)*1440+601, len(ends)*1440+640, len(ends)*1440+641)
			var raised, returned []aquarium.Transition
			for _, x := range s.run(t, site) {
				switch {
				case x.Identity.Cause != aquarium.FilterClogging:
				case x.Event == aquarium.Raised:
					raised = append(raised, x)
				case x.Event == aquarium.Returned:
					returned = append(returned, x)
				}
			}
			if len(raised) != 1 || len(returned) != 1 {
				t.Fatalf("raised%s\nreturned%s", brief(raised), brief(returned))
			}
			r := raised[0]
			lost := r.At.Sub(zero.Add(4*day)).Hours() / 24 * c.perDay / 900
			if lost < 0.195 || lost > 1.0/3 {
				t.Errorf("told with %.0f %% gone", 100*lost)
			}
			limit := zero.Add(4 * day).Add(time.Duration(0.33 * 900 / c.perDay * float64(day)))
			if off := r.Projected.Sub(limit); off.Abs() > 5*day {
				t.Errorf("projected %v, %v off", r.Projected, off)
			}
			if late := returned[0].At.Sub(cleaned); late < 0 || late > 5*h {
				t.Errorf("cleaned at %v, over at %v", cleaned, returned[0].At)
			}
		})
	}
}

// TestProjectedDay: with a fifth gone, by a flow told to 10 l/h, the day a filter comes
// to its limit is right to five days, whether it loses so much a day or such a share.
func TestProjectedDay(t *testing.T) {
	const clean, limit = 900.0, serviceLimit * 900
	for _, c := range []struct {
		name string
		at   func(day float64) float64
	}{
		{"so much a day, in three months", func(d float64) float64 { return clean - 3.3*d }},
		{"such a share a day, in three months", func(d float64) float64 { return clean * math.Exp(-0.0045*d) }},
		{"so much a day, in three weeks", func(d float64) float64 { return clean - 14*d }},
		{"such a share a day, in three weeks", func(d float64) float64 { return clean * math.Exp(-0.018*d) }},
	} {
		f, n := FilterLearned{}, 0
		for ; c.at(float64(n)) > 0.8*clean; n++ {
			f = f.with([]Hour{{N: 60, High: 10 * math.Round(c.at(float64(n)+0.5)/10), Low: clean / 2}})
		}
		end := float64(n)
		for c.at(end) > limit {
			end += 0.1
		}
		day0 := zero.Add(time.Duration(n) * day)
		off := f.reaches(limit, c.at(float64(n)), day0, day0).Sub(zero).Hours()/24 - end
		if math.Abs(off) > 5 {
			t.Errorf("%s: projected %.1f days off, want at most 5", c.name, off)
		} else {
			t.Logf("%s: projected %.1f days off", c.name, off)
		}
	}
}

// TestProjectedDayOfUnevenDays: whose flows differ by three thousandths from day to day, as
// pumps, pauses and temperature have it, three months on, right to five days all but never.
func TestProjectedDayOfUnevenDays(t *testing.T) {
	const clean, perDay, scatter, tries = 900.0, 3.3, 0.003 * 900, 200
	off := 0
	for seed := range uint64(tries) {
		f, n, rng := FilterLearned{}, 0, rand.New(rand.NewPCG(seed, 5))
		at := func(d float64) float64 { return clean - perDay*d }
		for ; at(float64(n)) > 0.8*clean; n++ {
			f = f.with([]Hour{{N: 60, High: at(float64(n)+0.5) + scatter*rng.NormFloat64(), Low: clean / 2}})
		}
		f.Clean = clean
		day0 := zero.Add(time.Duration(n) * day)
		due := (at(float64(n)) - serviceLimit*clean) / perDay
		// It is told at the lowest of hours that scatter as days do.
		flow := at(float64(n)) - 2*scatter
		if math.Abs(f.reaches(serviceLimit*clean, flow, day0, day0).Sub(day0).Hours()/24-due) > 5 {
			off++
		}
	}
	if off > tries/100 {
		t.Errorf("more than five days off %d times of %d", off, tries)
	}
}

// TestCleanFilter: neither pauses nor a filter that gives a tenth less after a
// cleaning than before count as clogging, and what is left of the flow counts
// from the last cleaning.
func TestCleanFilter(t *testing.T) {
	site := library()
	ends := slicesOf(900, 8)
	ends = append(ends, declining(900, 10, 12)...) // to 780
	s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: 40 * day}
	s.paths["flow-a"] = flows(900, 60, append(append(ends, 860), slicesOf(860, 19)...)...)
	w := New(site)
	got := s.play(w, s.samples(t, site), 0, s.lasts)
	for _, x := range got {
		if x.Identity.Cause == aquarium.FilterClogging {
			t.Errorf("clogs:%s", brief(got))
		}
	}
	if f := w.Learned()[0].Filters["a"]; math.Abs(f.Clean-860) > 25 || len(f.Flows) > 20 {
		t.Errorf("clean flow %v over %d days, want 860 since its cleaning 19 days ago", f.Clean, len(f.Flows))
	}
}

// TestSkimmerOfALowLevel: what draws at the surface gives less while the level is below
// its band, and does not clog for that.
func TestSkimmerOfALowLevel(t *testing.T) {
	s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: 7 * day}
	s.paths["flow-a"] = "0m:900 8640m:900 8641m:560 9360m:560 9361m:900"
	s.paths["level"] = "0m:0 8640m:0 8641m:-9 9360m:-9 9361m:0"
	for _, x := range s.run(t, library()) {
		if x.Identity.Cause == aquarium.FilterClogging {
			t.Errorf("%s %v at %v", x.Event, x.Identity, x.At.Sub(zero))
		}
	}
}

func slicesOf(v float64, n int) []float64 {
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = v
	}
	return xs
}

// TestClogsThroughAVisit: what weeks have shown stands while somebody is there, who is to
// see it, and is not told again when he goes without having cleaned; what he has cleaned
// is over by the hours after.
func TestClogsThroughAVisit(t *testing.T) {
	for _, cleaned := range []bool{false, true} {
		ends := append([]float64{900, 900, 900, 900}, declining(900, 14, 16)...)
		n := len(ends)
		after := ends[n-1]
		if cleaned {
			after = 895
		}
		s := script{paths: calm(), every: 5 * time.Minute, noise: 1, lasts: time.Duration(n+1) * day}
		s.paths["flow-a"] = flows(900, 10, ends...) + fmt.Sprintf(" %dm:%g %dm:0 %dm:0 %dm:%g", n*1440+600, ends[n-1], n*1440+601, n*1440+640, n*1440+641, after)
		from := zero.Add(time.Duration(n)*day + 590*time.Minute)
		s.journal = []aquarium.Entry{visit(from.Sub(zero), from.Sub(zero)+h)}
		var told []aquarium.Transition
		for _, x := range s.run(t, library()) {
			if x.Identity.Cause == aquarium.FilterClogging {
				told = append(told, x)
			}
		}
		want := 1
		if cleaned {
			want = 2
		}
		if len(told) != want || told[0].Event != aquarium.Raised || cleaned && (told[1].Event != aquarium.Returned || told[1].At.Sub(from) > 5*h) {
			t.Errorf("cleaned %v:%s", cleaned, brief(told))
		}
	}
}
