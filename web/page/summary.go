package page

import (
	"fmt"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// summary tells a strip in words, for those who do not see it: its lowest and
// highest, where it ends, and where it is silent.
func (c canvas) summary(st Strip, own []Series) string {
	var parts []string
	for i, s := range own {
		if len(s.T) == 0 {
			continue
		}
		name := st.Name
		if len(own) > 1 {
			name = st.Lines[i].Name
		}
		apart := ""
		if words := c.said(s); len(words) > 0 {
			apart = " Not counted: " + list(words) + "."
		}
		lo, hi, last := -1, -1, -1
		for k := range s.T {
			if s.poor(k) {
				continue
			}
			if last = k; lo < 0 || s.Min[k] < s.Min[lo] {
				lo = k
			}
			if hi < 0 || s.Max[k] > s.Max[hi] {
				hi = k
			}
		}
		if last < 0 {
			parts = append(parts, fmt.Sprintf("%s from %s to %s: no reading counts.%s", upper(name), clock(c.from, c.now, c.zone), clock(c.to, c.now, c.zone), apart))
			continue
		}
		parts = append(parts, fmt.Sprintf("%s from %s to %s: lowest %s at %s, highest %s at %s, last %s.%s%s",
			upper(name), clock(c.from, c.now, c.zone), clock(c.to, c.now, c.zone),
			st.form.full(s.Min[lo]), clock(s.T[lo], c.now, c.zone),
			st.form.full(s.Max[hi]), clock(s.T[hi], c.now, c.zone),
			st.form.full(s.Mean[last]), c.gaps(s), apart))
	}
	if len(parts) == 0 {
		return upper(st.Name) + ": no readings between " + clock(c.from, c.now, c.zone) + " and " + clock(c.to, c.now, c.zone) + "."
	}
	return strings.Join(parts, " ")
}

// gaps names the three longest silences of a series.
func (c canvas) gaps(s Series) string {
	type gap struct{ from, to aquarium.Instant }
	var gs []gap
	for i := 1; i < len(s.T); i++ {
		if s.Gap > 0 && s.T[i].Sub(s.T[i-1]) > s.Gap {
			gs = append(gs, gap{s.T[i-1], s.T[i]})
		}
	}
	if n := len(s.T); s.Gap > 0 && c.to.Sub(s.T[n-1]) > max(s.Gap, 10*time.Minute) {
		gs = append(gs, gap{s.T[n-1], c.to})
	}
	if len(gs) == 0 {
		return ""
	}
	if len(gs) > 3 {
		return fmt.Sprintf(" %d gaps without readings.", len(gs))
	}
	var words []string
	for _, g := range gs {
		words = append(words, "from "+clock(g.from, c.now, c.zone)+" to "+clock(g.to, c.now, c.zone))
	}
	return " No readings " + list(words) + "."
}
