package daemon

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// Summary is what a backtest comes to at one tank, or at a site as a whole.
type Summary struct {
	Site     aquarium.SiteID `json:"site"`
	Tank     aquarium.TankID `json:"tank"`
	From     string          `json:"from"`
	To       string          `json:"to"`
	Weeks    float64         `json:"weeks"`
	Alarms   int             `json:"alarms"`
	PerWeek  float64         `json:"per_week"`
	Noisiest aquarium.Cause  `json:"noisiest,omitempty"`
	Causes   []CauseSummary  `json:"causes"`
	// What is different from the configuration as it is, where another was
	// tried.
	Set  []string  `json:"set,omitempty"`
	More []Episode `json:"more,omitempty"`
	Less []Episode `json:"less,omitempty"`
	Else []Moved   `json:"moved,omitempty"`
}

// CauseSummary is how often a cause was raised, and for how long it stood.
type CauseSummary struct {
	Cause     aquarium.Cause `json:"cause"`
	Alarms    int            `json:"alarms"`
	High      int            `json:"high"`
	PerWeek   float64        `json:"per_week"`
	StandingS int            `json:"standing_s"`
	LongestS  int            `json:"longest_s"`
}

// Episode is one alarm from its raise to its return.
type Episode struct {
	Cause     aquarium.Cause        `json:"cause"`
	Equipment aquarium.EquipmentKey `json:"equipment"`
	Priority  aquarium.Priority     `json:"priority"`
	Raised    string                `json:"raised"`
	Returned  string                `json:"returned,omitempty"` // empty: it stood at the end
	from, to  aquarium.Instant
}

// Moved is an alarm that comes or goes at another time.
type Moved struct {
	Was Episode `json:"was"`
	Is  Episode `json:"is"`
}

func (e *Episode) lasted() time.Duration { return e.to.Sub(e.from) }

func (r *Report) summary(t Judged) Summary {
	s := Summary{Site: t.Site, Tank: t.Tank, From: stamp(t.From), To: stamp(t.To), Set: r.Set, Causes: []CauseSummary{}}
	s.Weeks = hundredth(t.To.Sub(t.From).Hours() / (7 * 24))
	es := episodes(r.Lines, t)
	s.Alarms, s.PerWeek = len(es), perWeek(len(es), t)
	for _, c := range aquarium.Causes() {
		x := CauseSummary{Cause: c}
		for _, e := range es {
			if e.Cause != c {
				continue
			}
			x.Alarms++
			if e.Priority == aquarium.High {
				x.High++
			}
			x.StandingS += int(e.lasted().Seconds())
			x.LongestS = max(x.LongestS, int(e.lasted().Seconds()))
		}
		if x.Alarms > 0 {
			x.PerWeek = perWeek(x.Alarms, t)
			s.Causes = append(s.Causes, x)
		}
	}
	if len(s.Causes) > 0 {
		s.Noisiest = slices.MaxFunc(s.Causes, func(a, b CauseSummary) int {
			return cmp.Or(cmp.Compare(a.Alarms, b.Alarms), cmp.Compare(a.StandingS, b.StandingS))
		}).Cause
	}
	if len(r.Set) > 0 {
		s.compare(episodes(r.Was, t), es)
	}
	return s
}

func perWeek(n int, t Judged) float64 {
	weeks := t.To.Sub(t.From).Hours() / (7 * 24)
	if weeks <= 0 {
		return 0
	}
	return hundredth(float64(n) / weeks)
}

func hundredth(v float64) float64 { return math.Round(v*100) / 100 }

// episodes are a tank's alarms in the order of their raises; what stands at the
// end has lasted until then.
func episodes(lines []Line, t Judged) (es []Episode) {
	open := map[string]int{}
	for _, l := range lines {
		if l.Site != t.Site || l.Tank != t.Tank {
			continue
		}
		id := string(l.Cause) + "/" + string(l.Equipment)
		if l.Event == aquarium.Raised {
			open[id] = len(es)
			es = append(es, Episode{Cause: l.Cause, Equipment: l.Equipment, Priority: l.Priority, Raised: l.Time, from: l.at, to: max(l.at, t.To)})
		} else if i, ok := open[id]; ok {
			es[i].Returned, es[i].to = l.Time, l.at
			delete(open, id)
		}
	}
	return es
}

// compare finds what is different: two alarms of one identity that overlap are
// the same one.
func (s *Summary) compare(was, is []Episode) {
	taken := make([]bool, len(was))
	for _, e := range is {
		i := -1
		for k, w := range was {
			if !taken[k] && w.Cause == e.Cause && w.Equipment == e.Equipment && w.from <= e.to && e.from <= w.to {
				i = k
				break
			}
		}
		if i < 0 {
			s.More = append(s.More, e)
			continue
		}
		taken[i] = true
		if w := was[i]; w.Raised != e.Raised || w.Returned != e.Returned || w.Priority != e.Priority {
			s.Else = append(s.Else, Moved{w, e})
		}
	}
	for k, w := range was {
		if !taken[k] {
			s.Less = append(s.Less, w)
		}
	}
}

func stamp(t aquarium.Instant) string { return t.Time().Format(time.RFC3339) }

// writeSummaries prints them for people. Tanks of which there is nothing to say
// are named in one line.
func writeSummaries(b *strings.Builder, ss []Summary, tried bool) {
	var calm []string
	for _, s := range ss {
		switch {
		case s.Alarms > 0 || len(s.Less) > 0:
			s.write(b, tried)
		case s.Tank != "":
			calm = append(calm, s.place())
		}
	}
	if len(calm) > 0 {
		fmt.Fprintf(b, "No alarms at %s.\n", strings.Join(calm, ", "))
	}
}

func (s *Summary) place() string {
	if s.Tank == "" {
		return string(s.Site) + " as a whole"
	}
	return string(s.Site) + "/" + string(s.Tank)
}

func (s *Summary) write(b *strings.Builder, tried bool) {
	fmt.Fprintf(b, "%s: %s in %.1f weeks, %.2f a week\n", s.place(), count(s.Alarms, "alarm"), s.Weeks, s.PerWeek)
	if len(s.Causes) > 0 {
		fmt.Fprintf(b, "  %-26s %6s %6s %7s %12s %12s\n", "cause", "alarms", "high", "a week", "standing", "longest")
	}
	for _, c := range s.Causes {
		fmt.Fprintf(b, "  %-26s %6d %6d %7.2f %12s %12s\n", c.Cause, c.Alarms, c.High, c.PerWeek, long(c.StandingS), long(c.LongestS))
	}
	if len(s.Causes) > 1 {
		fmt.Fprintf(b, "  the noisiest: %s\n", s.Noisiest)
	}
	if tried {
		s.writeDifference(b)
	}
	b.WriteString("\n")
}

// writeDifference says what is different from the configuration as it is.
func (s *Summary) writeDifference(b *strings.Builder) {
	if len(s.More)+len(s.Less)+len(s.Else) == 0 {
		b.WriteString("  with what was set: no difference\n")
		return
	}
	fmt.Fprintf(b, "  with what was set: %d more, %d less, %d at another time\n", len(s.More), len(s.Less), len(s.Else))
	for _, e := range s.More {
		fmt.Fprintf(b, "    more   %s\n", e.words())
	}
	for _, e := range s.Less {
		fmt.Fprintf(b, "    less   %s\n", e.words())
	}
	for _, m := range s.Else {
		fmt.Fprintf(b, "    moved  %s\n      was  %s\n", m.Is.words(), m.Was.words())
	}
}

func (e *Episode) words() string {
	until := "standing at the end"
	if e.Returned != "" {
		until = "until " + e.Returned
	}
	name := strings.TrimSpace(string(e.Cause) + " " + string(e.Equipment))
	return fmt.Sprintf("%s  %s  %-6s  %s", e.Raised, until, e.Priority, name)
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// long is a stretch of time in seconds for people.
func long(s int) string {
	switch m := (s + 30) / 60; {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case m < 120:
		return fmt.Sprintf("%d min", m)
	case m < 72*60:
		return fmt.Sprintf("%.1f h", float64(m)/60)
	default:
		return fmt.Sprintf("%.1f days", float64(m)/60/24)
	}
}
