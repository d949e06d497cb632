package text

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// Each cause, with the evidence its detector gives or the little there is of it.
func TestGoldenGrounds(t *testing.T) {
	told := map[aquarium.Cause]bool{}
	var b strings.Builder
	for _, a := range proven() {
		told[a.Cause] = true
		s := library()
		if a.Site == "" {
			s = aquarium.Site{}
		}
		g := GroundsOf(a, s)
		fmt.Fprintf(&b, "%s\n", a.Cause)
		for _, l := range g.All() {
			fmt.Fprintf(&b, "  %s\n", l)
		}
		if len(g.All()) == 0 {
			b.WriteString("  (nothing)\n")
		}
	}
	for _, c := range aquarium.Causes() {
		if !told[c] {
			t.Errorf("no alarm of %s", c)
		}
	}
	const file = "testdata/grounds.txt"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

// A fact or a lookalike that somebody adds must be given its words.
func TestEveryFactHasWords(t *testing.T) {
	names := constants(t, "../detect", "Fact")
	if len(names) < 30 {
		t.Fatalf("%d names of facts found, want those of package detect", len(names))
	}
	for name, value := range names {
		if _, ok := sayings[value]; !ok && !silentFacts[value] {
			t.Errorf("%s, %q, has no words: give it some in sayings", name, value)
		}
	}
	for name, value := range constants(t, "../../collector/aquarium", "Look") {
		if _, ok := lookalikes[aquarium.Lookalike(value)]; !ok {
			t.Errorf("%s, %q, has no words: give it some in lookalikes", name, value)
		}
	}
}

// constants are the string constants of a package whose names begin so.
func constants(t *testing.T, dir, prefix string) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no sources in %s: %v", dir, err)
	}
	found := map[string]string{}
	for _, file := range files {
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST {
				continue
			}
			for _, s := range g.Specs {
				v := s.(*ast.ValueSpec)
				if !strings.HasPrefix(v.Names[0].Name, prefix) || len(v.Values) != 1 {
					continue
				}
				if lit, ok := v.Values[0].(*ast.BasicLit); ok && lit.Kind == token.STRING {
					found[v.Names[0].Name], _ = strconv.Unquote(lit.Value)
				}
			}
		}
	}
	return found
}

// What nobody knows yet costs its words and nothing else.
func TestUnknownGroundsCostTheirWords(t *testing.T) {
	a := proof(aquarium.FilterStalled, "a", aquarium.Evidence{Sensor: "flow-a", Unit: "l/h", Expected: of(1090),
		Facts:    []aquarium.Fact{{Name: "moon", Value: 3, Unit: "d"}, {Name: "pump", Word: "sulking"}, says("others", "running")},
		Excluded: []aquarium.Excluded{{What: "eclipse", Because: num("moon", 3, "d")}, {What: aquarium.LookPower, Because: num("moon", 3, "d")}}})
	got := strings.Join(GroundsOf(a, library()).All(), " ")
	if want := "Flow 0 l/h, should be 1090. Another filter runs. Not a power cut."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1e300} {
		a.Evidence.Value, a.Evidence.PerHour, a.Evidence.HarmIn, a.Evidence.Limit, a.Evidence.Expected = x, &x, &x, &x, &x
		a.Evidence.Facts = []aquarium.Fact{num("need", x, "min"), num("loss", x, "l/h"), num("fillings", x, "")}
		for _, l := range GroundsOf(a, library()).All() {
			if strings.Contains(l, "NaN") || strings.Contains(l, "Inf") || strings.Contains(l, "  ") {
				t.Errorf("of %v: %q", x, l)
			}
		}
	}
}

func TestGroundsOfWhatIsOver(t *testing.T) {
	a := proven()[0]
	a.Active, a.Returned = false, a.Raised.Add(time.Hour)
	if got := strings.Join(GroundsOf(a, library()).Lines, " "); strings.Contains(got, "arm in") || strings.Contains(got, "passes") {
		t.Errorf("an alarm that is over looks ahead: %q", got)
	}
	a.History = []aquarium.AlarmEvent{{At: a.Raised, What: "raised"}, {At: a.Raised.Add(time.Minute), What: "worsened"}, {At: a.Raised.Add(time.Hour), What: "returned"}}
	if got, want := GroundsOf(a, library()).At, a.Raised.Add(time.Minute); got != want {
		t.Errorf("as of %v, want when it got worse, %v", got, want)
	}
}

// The numbers of a line agree, and a rise is not said to be too little.
func TestReadingAddsUp(t *testing.T) {
	for _, c := range []struct {
		name     string
		cause    aquarium.Cause
		value    float64
		unit     aquarium.Unit
		expected float64
		want     string
	}{
		{"rounded apart", aquarium.ReservoirNotRefilling, 92.5, "l", 200.4, "Stored 93 l, should be 200, 107 l under it."},
		{"a rise under its bound", aquarium.DrainOverflow, 112, "mm", 250, "Level 112 mm, should be at most 250."},
		{"and over it", aquarium.DrainOverflow, 341, "mm", 250, "Level 341 mm, should be at most 250, 91 mm over it."},
		{"the same as read", aquarium.TopOffRunaway, 4.2, "mm", 4, "Level +4 mm, should be at most +4."},
		{"a flow by its share", aquarium.FilterClogging, 770, "l/h", 970, "Flow 770 l/h, should be 970, 21 % under it."},
	} {
		a := proof(c.cause, "", aquarium.Evidence{Sensor: "x", Value: c.value, Unit: c.unit, Expected: &c.expected})
		if got := GroundsOf(a, library()).Lines[0]; got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

func TestAbout(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want string
	}{
		{30 * time.Second, "a minute"}, {80 * time.Second, "1 min"}, {14*time.Minute + 50*time.Second, "14 min"},
		{43 * time.Minute, "40 min"}, {99 * time.Minute, "95 min"}, {119 * time.Minute, "115 min"}, {179 * time.Minute, "2 h"}, {10*time.Hour + 50*time.Minute, "10 h"}, {71 * time.Hour, "2 days"},
	} {
		if got := about(c.d); got != c.want {
			t.Errorf("about %v is %q, want %q", c.d, got, c.want)
		}
	}
}

func of(x float64) *float64 { return &x }

func num(name string, x float64, u aquarium.Unit) aquarium.Fact {
	return aquarium.Fact{Name: name, Value: x, Unit: u}
}

func says(name, w string) aquarium.Fact { return aquarium.Fact{Name: name, Word: w} }

func not(l aquarium.Lookalike, f aquarium.Fact) aquarium.Excluded {
	return aquarium.Excluded{What: l, Because: f}
}

// proof is an alarm of the library's tank raised at 02:14.
func proof(c aquarium.Cause, part aquarium.EquipmentKey, e aquarium.Evidence) aquarium.Alarm {
	at := aquarium.At(time.Date(2031, 3, 2, 2, 14, 0, 0, time.UTC))
	return aquarium.Alarm{ID: "17", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: c, Equipment: part},
		Priority: c.Priority(), State: aquarium.Unacknowledged, Active: true, Since: at.Add(-10 * time.Minute), Raised: at, Evidence: e}
}
