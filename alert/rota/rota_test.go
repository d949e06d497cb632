package rota

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func london(t *testing.T) *time.Location {
	t.Helper()
	l, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// at reads a time with its offset; clock a time of day.
func at(t *testing.T, s string) aquarium.Instant {
	t.Helper()
	x, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return aquarium.At(x)
}

func span(from, to aquarium.Clock) *aquarium.Span { return &aquarium.Span{From: from, To: to} }

func TestLadder(t *testing.T) {
	high := []aquarium.Rung{
		{Tell: "keeper", By: "texts"},
		{After: 10 * time.Minute, Tell: "deputy", By: "texts"},
		{After: 20 * time.Minute, Tell: "keeper", By: "texts", Repeat: 15 * time.Minute},
	}
	raise := at(t, "2031-03-02T02:00:00Z")
	type told struct {
		who   aquarium.PersonID
		after time.Duration
	}
	cases := []struct {
		name  string
		looks []time.Duration // after the raise
		want  []told
		next  time.Duration // of the last look; 0: none
	}{
		{"first rung at once", []time.Duration{0}, []told{{"keeper", 0}}, 10 * time.Minute},
		{"no rung before its time", []time.Duration{0, 10*time.Minute - time.Millisecond}, []told{{"keeper", 0}}, 10 * time.Minute},
		{"second rung counts from the raise", []time.Duration{0, 10 * time.Minute}, []told{{"keeper", 0}, {"deputy", 10 * time.Minute}}, 20 * time.Minute},
		{"repeats go on", []time.Duration{0, 10 * time.Minute, 20 * time.Minute, 35 * time.Minute, 50 * time.Minute},
			[]told{{"keeper", 0}, {"deputy", 10 * time.Minute}, {"keeper", 20 * time.Minute}, {"keeper", 35 * time.Minute}, {"keeper", 50 * time.Minute}}, 65 * time.Minute},
		{"a late look shifts no later rung", []time.Duration{4 * time.Minute, 10 * time.Minute}, []told{{"keeper", 0}, {"deputy", 10 * time.Minute}}, 20 * time.Minute},
		{"missed repeats are one", []time.Duration{0, 10 * time.Minute, 20 * time.Minute, 90 * time.Minute},
			[]told{{"keeper", 0}, {"deputy", 10 * time.Minute}, {"keeper", 20 * time.Minute}, {"keeper", 80 * time.Minute}}, 95 * time.Minute},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			call := Call{From: raise, Priority: aquarium.High}
			var got []told
			for _, look := range c.looks {
				steps, _ := Due(high, call, nobody, raise.Add(look))
				call = call.Told(steps)
				for _, s := range steps {
					got = append(got, told{s.Rung.Tell, s.At.Sub(raise)})
				}
				if again, _ := Due(high, call, nobody, raise.Add(look)); len(again) > 0 {
					t.Errorf("after %s: told twice: %v", look, again)
				}
			}
			if len(got) != len(c.want) {
				t.Fatalf("got %v, want %v", got, c.want)
			}
			for i := range got {
				if got[i] != c.want[i] {
					t.Errorf("step %d: got %v, want %v", i, got[i], c.want[i])
				}
			}
			_, next := Due(high, call, nobody, raise.Add(c.looks[len(c.looks)-1]))
			if next.Sub(raise) != c.next {
				t.Errorf("next after %s, want %s", next.Sub(raise), c.next)
			}
		})
	}
}

func nobody(aquarium.PersonID) (aquarium.Person, bool) { return aquarium.Person{}, false }

// Summer time in Europe/London began on 2031-03-30 at 01:00Z and ends on
// 2031-10-26 at 01:00Z: last Sundays of March and October, as in Directive
// 2000/84/EC and the Summer Time Order 2002 (from memory; the zone database
// that Go reads says the same, or the offsets below would not match).
func TestHold(t *testing.T) {
	cases := []struct {
		name     string
		priority aquarium.Priority
		quiet    *aquarium.Span
		at, want string
	}{
		{"high is never held", aquarium.High, span(22*60, 7*60), "2031-01-10T03:00:00Z", "2031-01-10T03:00:00Z"},
		{"medium is held till morning", aquarium.Medium, span(22*60, 7*60), "2031-01-10T03:00:12Z", "2031-01-10T07:00:00Z"},
		{"low is held over midnight", aquarium.Low, span(22*60, 7*60), "2031-01-10T22:00:00Z", "2031-01-11T07:00:00Z"},
		{"just before it is told", aquarium.Medium, span(22*60, 7*60), "2031-01-10T21:59:59Z", "2031-01-10T21:59:59Z"},
		{"its end belongs to the day", aquarium.Medium, span(22*60, 7*60), "2031-01-10T07:00:00Z", "2031-01-10T07:00:00Z"},
		{"in the zone of the person", aquarium.Medium, span(22*60, 7*60), "2031-07-10T05:59:00Z", "2031-07-10T06:00:00Z"},
		{"a night of eight hours", aquarium.Medium, span(22*60, 7*60), "2031-03-29T22:00:00Z", "2031-03-30T07:00:00+01:00"},
		{"a night of ten hours", aquarium.Medium, span(22*60, 7*60), "2031-10-25T22:00:00+01:00", "2031-10-26T07:00:00Z"},
		{"an end that the clock skips", aquarium.Medium, span(22*60, 90), "2031-03-30T00:30:00Z", "2031-03-30T02:00:00+01:00"},
		{"an end that comes twice is the first", aquarium.Medium, span(22*60, 90), "2031-10-25T23:30:00Z", "2031-10-26T01:30:00+01:00"},
		{"and holds again in the hour that comes twice", aquarium.Medium, span(22*60, 90), "2031-10-26T01:10:00Z", "2031-10-26T01:30:00Z"},
		{"quiet at noon", aquarium.Low, span(12*60, 13*60), "2031-01-10T12:30:00Z", "2031-01-10T13:00:00Z"},
		{"no quiet hours", aquarium.Low, nil, "2031-01-10T03:00:00Z", "2031-01-10T03:00:00Z"},
		{"the whole day would be never, so it is not", aquarium.Low, span(0, 0), "2031-01-10T03:00:00Z", "2031-01-10T03:00:00Z"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p := aquarium.Person{ID: "keeper", Quiet: c.quiet, Timezone: london(t)}
			if got, want := Hold(c.priority, p, at(t, c.at)), at(t, c.want); got != want {
				t.Errorf("got %s, want %s", got, want)
			}
		})
	}
}

func TestQuietLadder(t *testing.T) {
	who := func(aquarium.PersonID) (aquarium.Person, bool) {
		return aquarium.Person{ID: "keeper", Quiet: span(22*60, 7*60), Timezone: london(t)}, true
	}
	rungs := []aquarium.Rung{{Tell: "keeper", By: "texts", Repeat: time.Hour}}
	call := Call{From: at(t, "2031-01-10T23:00:00Z"), Priority: aquarium.Medium}
	steps, next := Due(rungs, call, who, at(t, "2031-01-11T04:00:00Z"))
	if len(steps) != 0 || next != at(t, "2031-01-11T07:00:00Z") {
		t.Fatalf("at night: got %d steps, next %s; want none, next 07:00", len(steps), next)
	}
	steps, next = Due(rungs, call, who, next)
	if len(steps) != 1 || next != at(t, "2031-01-11T08:00:00Z") {
		t.Fatalf("in the morning: got %d steps, next %s; want one, next 08:00", len(steps), next)
	}
	call.Priority = aquarium.High
	if steps, _ = Due(rungs, call, who, at(t, "2031-01-11T04:00:00Z")); len(steps) != 1 {
		t.Errorf("high at night: got %d steps, want 1", len(steps))
	}
}

func TestDigestRungsAreNoSteps(t *testing.T) {
	hour := aquarium.Clock(7*60 + 30)
	rungs := []aquarium.Rung{{Tell: "keeper", By: "mail", Digest: &hour}}
	steps, next := Due(rungs, Call{Priority: aquarium.Low}, nobody, at(t, "2031-01-11T08:00:00Z"))
	if len(steps) != 0 || next != 0 {
		t.Errorf("got %d steps, next %d; want none", len(steps), next)
	}
}

func TestNextDigest(t *testing.T) {
	cases := []struct {
		name        string
		hour        aquarium.Clock
		after, want string
	}{
		{"later today", 450, "2031-01-10T03:00:00Z", "2031-01-10T07:30:00Z"},
		{"tomorrow", 450, "2031-01-10T08:00:00Z", "2031-01-11T07:30:00Z"},
		{"strictly after", 450, "2031-01-10T07:30:00Z", "2031-01-11T07:30:00Z"},
		{"the day summer time begins", 450, "2031-03-29T07:30:00Z", "2031-03-30T07:30:00+01:00"},
		{"the day it ends", 450, "2031-10-25T07:30:00+01:00", "2031-10-26T07:30:00Z"},
		{"an hour that is skipped still has its mail", 90, "2031-03-29T12:00:00Z", "2031-03-30T02:30:00+01:00"},
		{"an hour that comes twice has one", 90, "2031-10-25T12:00:00Z", "2031-10-26T01:30:00Z"},
		{"and no second", 90, "2031-10-26T01:30:00Z", "2031-10-27T01:30:00Z"},
		{"the end of the day", 1440, "2031-01-10T12:00:00Z", "2031-01-11T00:00:00Z"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, want := NextDigest(c.hour, london(t), at(t, c.after)), at(t, c.want)
			if got != want {
				t.Errorf("got %s, want %s", got, want)
			}
		})
	}
}

func TestLadderChanged(t *testing.T) {
	raise := at(t, "2031-01-10T12:00:00Z")
	old := []aquarium.Rung{{Tell: "keeper", By: "texts"}}
	call := Call{From: raise, Priority: aquarium.High}
	steps, _ := Due(old, call, nobody, raise)
	call = call.Told(steps)
	longer := append(old, aquarium.Rung{After: time.Minute, Tell: "deputy", By: "texts"})
	steps, _ = Due(longer, call, nobody, raise.Add(time.Hour))
	if len(steps) != 1 || steps[0].Rung.Tell != "deputy" {
		t.Errorf("got %v, want the new rung alone", steps)
	}
	if !call.Heard(longer, "keeper", "texts") || call.Heard(longer, "deputy", "texts") {
		t.Error("Heard: want the keeper and not the deputy")
	}
}
