package alert

import (
	"encoding/csv"
	"errors"
	"os"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// letters are the states' letters in the diagram.
var letters = map[string]aquarium.State{
	"A": aquarium.Normal, "B": aquarium.Unacknowledged, "C": aquarium.Acknowledged,
	"D": aquarium.ReturnedUnacknowledged, "G": aquarium.Shelved,
	"H": aquarium.StateSuppressed, "I": aquarium.StateOutOfService,
}

// TestStatesOfTheStandard checks every arrow of testdata/alarm_states.csv
// (ISA-18.2 and IEC 62682, source in the file), exactly. The latched states E
// and F are not used. An alarm has no file before it first occurs, so shelving
// what is normal, and what has returned, is refused.
func TestStatesOfTheStandard(t *testing.T) {
	f, err := os.Open("testdata/alarm_states.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	deeds := map[string]deed{
		"alarm occurs": occurs, "re-alarm": occurs, "return to normal": returns, "acknowledge": acknowledges,
		"shelve": shelves, "suppress": suppresses, "out of service": withdraws,
	}
	checked := 0
	for _, row := range rows[1:] {
		from, ok := letters[row[0]]
		if !ok {
			continue // latched
		}
		for _, arrow := range strings.Split(row[5], "; ") {
			what, to, _ := strings.Cut(arrow, " -> ")
			if strings.Contains(to, "A or B by condition") {
				checkLeaving(t, from)
				checked++
				continue
			}
			want := letters[to[:1]]
			d, ok := deeds[what]
			if !ok {
				t.Fatalf("unknown arrow %q", arrow)
			}
			got, err := d.after(from, want != aquarium.Normal)
			if from == aquarium.Normal && d == shelves {
				if !errors.Is(err, aquarium.ErrNotPossible) {
					t.Errorf("shelving what is normal: got %v", err)
				}
			} else if err != nil || got != want {
				t.Errorf("%s: %s: got %s, %v; want %s", from, what, got, err, want)
			}
			checked++
		}
	}
	if checked != 13 {
		t.Errorf("checked %d arrows, want 13", checked)
	}
}

// checkLeaving: shelved, suppressed and out of service end in A or B by
// condition.
func checkLeaving(t *testing.T, from aquarium.State) {
	t.Helper()
	on, off := occurs, returns
	if from == aquarium.Shelved {
		on, off = unshelves, unshelves
	}
	if got, _ := on.after(from, true); got != aquarium.Unacknowledged {
		t.Errorf("%s, still true: got %s", from, got)
	}
	if got, _ := off.after(from, false); got != aquarium.Normal {
		t.Errorf("%s, no longer true: got %s", from, got)
	}
}

func TestDeedsRefused(t *testing.T) {
	cases := []struct {
		deed deed
		from aquarium.State
	}{
		{acknowledges, aquarium.Normal}, {acknowledges, aquarium.Shelved},
		{acknowledges, aquarium.StateSuppressed}, {acknowledges, aquarium.StateOutOfService},
		{shelves, aquarium.ReturnedUnacknowledged}, {shelves, aquarium.StateSuppressed}, {shelves, aquarium.StateOutOfService},
		{unshelves, aquarium.Acknowledged},
	}
	for _, c := range cases {
		if got, err := c.deed.after(c.from, true); !errors.Is(err, aquarium.ErrNotPossible) || got != c.from {
			t.Errorf("%s from %s: got %s, %v; want it refused", c.deed, c.from, got, err)
		}
	}
}

// Only what was raised after its parent is suppressed; what comes and goes on
// the shelf stays there.
func TestStatesKept(t *testing.T) {
	for _, s := range []aquarium.State{aquarium.Unacknowledged, aquarium.Acknowledged, aquarium.Shelved} {
		if got, _ := suppresses.after(s, true); got != s {
			t.Errorf("suppress %s: got %s", s, got)
		}
	}
	for _, d := range []deed{occurs, returns, withdraws} {
		if got, _ := d.after(aquarium.Shelved, true); got != aquarium.Shelved {
			t.Errorf("shelved, %s: got %s", d, got)
		}
	}
}
