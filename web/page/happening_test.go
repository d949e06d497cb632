package page

import (
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestMarks: what began before the strip, ended within it or lasts still is
// drawn so, and nothing else is drawn.
func TestMarks(t *testing.T) {
	hour := func(h float64) aquarium.Instant { return aquarium.Instant(1_900_000_000_000 + h*3.6e6) }
	from, to := hour(0), hour(10)
	for _, c := range []struct {
		name string
		h    Happening
		want []mark
	}{
		{"lasts still", Happening{At: hour(5), Open: true, Kind: alarmKind, Letter: "A"}, []mark{{Kind: alarmKind, Own: true, Begins: true, X: 50, EndX: 100, W: 50, Letter: "A", Y: letterRow}}},
		{"was over", Happening{At: hour(2), Until: hour(4), Kind: alarmKind, Letter: "B"}, []mark{{Kind: alarmKind, Own: true, Begins: true, Ends: true, X: 20, EndX: 40, W: 20, Letter: "B", Y: letterRow}}},
		{"began before", Happening{At: hour(-3), Until: hour(1), Kind: visitKind}, []mark{{Kind: visitKind, Own: true, Ends: true, X: 0, EndX: 10, W: 10, Y: letterRow}}},
		{"a visit not over yet", Happening{At: hour(9), Until: hour(11), Kind: visitKind}, []mark{{Kind: visitKind, Own: true, Begins: true, X: 90, EndX: 100, W: 10, Y: letterRow}}},
		{"a moment", Happening{At: hour(9.9), Kind: testKind, Letter: "a"}, []mark{{Kind: testKind, Own: true, Begins: true, X: 99, EndX: 99, Letter: "a", Y: letterRow, Left: true}}},
		{"told on another strip", Happening{At: hour(5), Kind: testKind, Strip: 2, Letter: "a"}, []mark{{Kind: testKind, Begins: true, X: 50, EndX: 50}}},
		{"told on each", Happening{At: hour(5), Kind: testKind, Strip: -1}, []mark{{Kind: testKind, Own: true, Begins: true, X: 50, EndX: 50, Y: letterRow}}},
		{"before it all", Happening{At: hour(-3), Until: hour(-2), Kind: alarmKind}, nil},
		{"after it all", Happening{At: hour(11), Open: true, Kind: alarmKind}, nil},
		{"no mark of its own", Happening{At: hour(5)}, nil},
	} {
		got := marks([]Happening{c.h}, from, to, 0)
		if len(got) != len(c.want) || len(got) == 1 && got[0] != c.want[0] {
			t.Errorf("%s: got %+v, want %+v", c.name, got, c.want)
		}
	}
}

// TestHappenings: newest first; alarms in capitals on the strip they rest upon,
// what people did in small letters, and a test of KH where the CO2 is.
func TestHappenings(t *testing.T) {
	s := stage{zone: time.UTC, now: aquarium.At(time.Date(2031, 3, 4, 2, 26, 0, 0, time.UTC))}
	_, tank := s.site("atrium")
	plan := Plan(tank, true)
	say := func(a *Alarm) string { return a.Text }
	tell := func(e aquarium.Entry) string { return entry(e, s.now, s.zone) }
	var got []string
	for _, h := range happenings(append(s.crash(), append(s.over(), s.over()...)...), s.journal(), plan, say, tell) {
		got = append(got, h.Letter+" "+plan[h.Strip].Name+" "+h.Kind)
	}
	want := "A pH alarm; B flow alarm; a CO2, estimated test; b pH test; c pH visit;  pH ; d CO2, estimated test; e pH visit"
	if strings.Join(got, "; ") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "; "), want)
	}
}

// TestLastKnown: an alarm whose readings stopped says so in words on rounds, on
// its tank's page and on its own.
func TestLastKnown(t *testing.T) {
	const want = "Last known, of yesterday 21:26, 5\u202fh ago: its readings have stopped"
	for _, s := range Stories(nil) {
		var b strings.Builder
		switch s.Name {
		case "rounds-known", "tank-known":
			if err := Render(&b, s.Page); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(b.String(), want) {
				t.Errorf("%s does not say %q", s.Name, want)
			}
		}
	}
	over := Alarm{}
	over.Evidence.LastKnown = true
	if got := known(&over, 0); got != "" {
		t.Errorf("an alarm that is over says %q", got)
	}
}
