package daemon

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"lentic/collector/aquarium"
)

// Report is what a backtest found, to be printed.
type Report struct {
	Lines []Line
	// Set is what was tried instead of the configuration as it is, and Was what
	// that finds.
	Set []string
	Was []Line
	// Explain tells of each raised alarm what it rests on.
	Explain bool
	// Tanks are those that were judged; a site as a whole has the tank "".
	Tanks []Judged
}

// Judged is a tank and the time over which it was judged.
type Judged struct {
	aquarium.TankKey
	From, To aquarium.Instant
}

// Add takes in what was found at a site.
func (r *Report) Add(site aquarium.Site, lines, was []Line, span Span) {
	r.Lines, r.Was = append(r.Lines, lines...), append(r.Was, was...)
	r.Tanks = append(r.Tanks, Judged{aquarium.TankKey{Site: site.ID}, span.First, span.Last})
	for _, t := range site.Tanks {
		r.Tanks = append(r.Tanks, Judged{aquarium.TankKey{Site: site.ID, Tank: t.ID}, span.First, span.Last})
	}
}

// Write prints events in the order of time and a summary under them, or the
// summary only. As JSON, events and summaries are one object a line, and there is
// a summary only where it is asked for.
func (r *Report) Write(out io.Writer, asJSON, summary bool) error {
	var ss []Summary
	for _, t := range r.Tanks {
		ss = append(ss, r.summary(t))
	}
	switch {
	case asJSON && summary:
		return encode(out, ss)
	case asJSON:
		return encode(out, r.proven())
	}
	var b strings.Builder
	if !summary {
		r.writeLines(&b)
		b.WriteString("\n")
	}
	writeSummaries(&b, ss, len(r.Set) > 0)
	_, err := io.WriteString(out, b.String())
	return err
}

// proven are the lines in the order of time, with what raises rest on where that is
// asked for.
func (r *Report) proven() []Line {
	lines := inTime(r.Lines)
	for i := range lines {
		if lines[i].Evidence = nil; r.Explain {
			lines[i].Evidence = lines[i].why
		}
	}
	return lines
}

// inTime are the lines in the order of time.
func inTime(lines []Line) []Line {
	slices.SortStableFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(a.Time, b.Time), cmp.Compare(a.Site, b.Site))
	})
	return lines
}

func encode[T any](out io.Writer, vs []T) error {
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for _, v := range vs {
		if err := enc.Encode(v); err != nil {
			return err
		}
	}
	return nil
}

// writeLines prints events for people, with the place where there is more than one.
func (r *Report) writeLines(b *strings.Builder) {
	lines := r.proven()
	places := 0
	for _, t := range r.Tanks {
		if t.Tank != "" {
			places++
		}
	}
	for _, l := range lines {
		fmt.Fprintf(b, "%s  %-8s  %-6s  ", l.Time, l.Event, l.Priority)
		if places > 1 {
			b.WriteString(strings.TrimSuffix(string(l.Site)+"/"+string(l.Tank), "/") + ": ")
		}
		b.WriteString(l.Text + "\n")
		if l.Evidence == nil {
			continue
		}
		for _, why := range l.Evidence.Lines {
			fmt.Fprintf(b, "    %s\n", why)
		}
	}
	if len(lines) == 0 {
		b.WriteString("No alarms.\n")
	}
}
