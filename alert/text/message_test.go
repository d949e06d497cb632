package text

import (
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

var update = flag.Bool("update", false, "rewrite the golden texts")

const testLink = "https://watch.example.net/a/K4DJX2QZ7MVN5RTW3HPYBC6LGE"

func library() aquarium.Site {
	return aquarium.Site{
		ID: "quillmere-library", Name: "Quillmere Library", Timezone: time.UTC,
		Tanks: []aquarium.Tank{{
			ID: "atrium", Name: "Atrium island",
			Sensors:   []aquarium.Sensor{{ID: "ph"}, {ID: "water"}, {ID: "waste-pump"}},
			Equipment: aquarium.Equipment{CO2: &aquarium.CO2{}, Filters: []aquarium.Filter{{ID: "a"}, {ID: "b"}}},
		}},
	}
}

// Each file has the alarm as JSON, a line of dashes, and then the message of
// each kind and the sentence. With -update the lower half is written anew, to
// be read by a person before it is kept.
func TestGoldenTexts(t *testing.T) {
	files, err := filepath.Glob("testdata/texts/*.txt")
	if err != nil || len(files) < len(aquarium.Causes()) {
		t.Fatalf("%d golden texts (%v), want one for each of %d causes", len(files), err, len(aquarium.Causes()))
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			above, below, _ := strings.Cut(string(b), "----\n")
			var a aquarium.Alarm
			if err := json.Unmarshal([]byte(above), &a); err != nil {
				t.Fatal(err)
			}
			got := golden(a)
			if *update {
				if err := os.WriteFile(file, []byte(above+"----\n"+got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != below {
				t.Errorf("got\n%s\nwant\n%s", got, below)
			}
		})
	}
}

func golden(a aquarium.Alarm) string {
	s := library()
	if a.Site == "" {
		s = aquarium.Site{}
	}
	var b strings.Builder
	for _, k := range []Kind{Raised, Worse, Renamed, Again, StillStanding, AllClear} {
		link := testLink
		if k == AllClear {
			link = ""
		}
		m := Message(k, a, s, link)
		fmt.Fprintf(&b, "%s (%d)\n%s\n", k, size(m), m)
	}
	fmt.Fprintf(&b, "sentence\n%s\nsubject\n%s\n", Sentence(a, s), Subject(Raised, a, s))
	return b.String()
}

// Whatever people call their tanks, the text is one message of the alphabet,
// with its link whole and the tank still to be told.
func TestAnyNameFits(t *testing.T) {
	rng := rand.New(rand.NewPCG(20310302, 1))
	for i := range 20000 {
		s := library()
		s.Name, s.Tanks[0].Name = anyName(rng), anyName(rng)
		if rng.IntN(2) == 0 {
			s.Tanks[0].Name = "Orangery " + s.Tanks[0].Name
		}
		c := aquarium.Causes()[rng.IntN(len(aquarium.Causes()))]
		a := longest(s, "atrium", c)
		if rng.IntN(3) == 0 {
			a.Equipment = aquarium.EquipmentKey(strings.Repeat("z", 32))
		}
		kind := []Kind{Raised, Worse, Renamed, Again, StillStanding}[rng.IntN(5)]
		m := Message(kind, a, s, testLink)
		n, ok := Septets(m)
		switch {
		case !ok:
			t.Fatalf("%d: not in the alphabet: %q", i, m)
		case n > Limit:
			t.Fatalf("%d: %d septets: %q", i, n, m)
		case !strings.HasSuffix(m, " "+testLink):
			t.Fatalf("%d: link broken: %q", i, m)
		case strings.HasPrefix(s.Tanks[0].Name, "Orangery") && !strings.HasPrefix(m, "Orangery"):
			t.Fatalf("%d: tank %q cannot be told: %q", i, s.Tanks[0].Name, m)
		case strings.HasPrefix(m, ":") || strings.HasPrefix(m, ","):
			t.Fatalf("%d: no place: %q", i, m)
		}
	}
}

func anyName(rng *rand.Rand) string {
	pool := [][]rune{[]rune("abc XYZ 0123456789"), []rune("éüñßøžłđşΔΩжЩяё水草魚"), []rune("🐟🌿😀"), []rune("\"'\n\r\t\x00\\{}[]|~^€“”…°₂")}
	var b strings.Builder
	for range rng.IntN(200) {
		p := pool[rng.IntN(len(pool))]
		b.WriteRune(p[rng.IntN(len(p))])
	}
	return b.String()
}

func TestTanksCutStayApart(t *testing.T) {
	s := library()
	s.Tanks = []aquarium.Tank{{ID: "r1", Name: "Physiotherapy treatment room 1"}, {ID: "r2", Name: "Physiotherapy treatment room 2"}}
	one := Message(Raised, longest(s, "r1", aquarium.CO2ValveStuck), s, testLink)
	two := Message(Raised, longest(s, "r2", aquarium.CO2ValveStuck), s, testLink)
	if one == two {
		t.Errorf("two tanks, one text: %q", one)
	}
}

func TestEveryCauseHasWords(t *testing.T) {
	for _, c := range aquarium.Causes() {
		if _, ok := wordings[c]; !ok {
			t.Errorf("%s has no wording", c)
		}
		adv := Advise(c)
		if adv.First == "" || adv.First == lookFirst || len(adv.Cautions) == 0 {
			t.Errorf("%s has no advice of its own", c)
		}
		// Facts and numbers missing cost their words and nothing else.
		m := Message(Raised, aquarium.Alarm{Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: c}}, library(), "")
		if strings.Contains(m, "..") || strings.Contains(m, " ,") || strings.Contains(m, "  ") {
			t.Errorf("%s without evidence: %q", c, m)
		}
	}
	if m := Message(Raised, aquarium.Alarm{Identity: aquarium.Identity{Site: "x", Tank: "y", Cause: "not-yet-known"}}, aquarium.Site{}, ""); !strings.HasPrefix(m, "y, x: not-yet-known.") && !strings.HasPrefix(m, "y, x: Not-yet-known.") {
		t.Errorf("an unknown cause: %q", m)
	}
}

// Nothing lentic says may be taken for a guarantee.
func TestNothingIsPromised(t *testing.T) {
	promise := regexp.MustCompile(`(?i)\b(safe|safely|certified|guarantee[ds]?|approved)\b`)
	say := []string{testText(aquarium.Person{ID: "keeper", Timezone: time.UTC}, 0), digest(Day{To: aquarium.Person{Timezone: time.UTC}}).Text}
	for _, c := range aquarium.Causes() {
		a := Advise(c)
		say = append(append(append(say, a.First), a.Then...), a.Cautions...)
		say = append(say, golden(longest(library(), "atrium", c)))
	}
	for _, s := range say {
		if w := promise.FindString(s); w != "" {
			t.Errorf("%q in %q", w, s)
		}
	}
}

func TestGasCausesWarnOfGas(t *testing.T) {
	for _, c := range []aquarium.Cause{aquarium.CO2Overshoot, aquarium.CO2ValveStuck, aquarium.PHFalling, aquarium.PHLow, aquarium.RoomCO2High} {
		if all := strings.Join(Advise(c).Cautions, "\n"); !strings.Contains(all, "gathers low") || !strings.Contains(all, "licensed trades") {
			t.Errorf("%s: cautions %q", c, all)
		}
	}
}

func TestLinkIsWholeOrAbsent(t *testing.T) {
	s := library()
	a := longest(s, "atrium", aquarium.CO2Overshoot)
	for _, link := range []string{"https://" + strings.Repeat("x", 60) + "/a/t", "https://" + strings.Repeat("x", 140), "https://" + strings.Repeat("x", 400), "https://exämple/ x", "http://wätch.example.net/水"} {
		m := Message(Raised, a, s, link)
		if n, ok := Septets(m); !ok || n > Limit {
			t.Errorf("%d septets, in the alphabet %v: %q", n, ok, m)
		}
		if strings.Contains(m, "http") && !strings.HasSuffix(m, " "+link) {
			t.Errorf("link in part: %q", m)
		}
		if !strings.HasPrefix(m, "Atrium") || !strings.Contains(m, "CO2 too high") {
			t.Errorf("facts lost to a link: %q", m)
		}
	}
}

func TestWorst(t *testing.T) {
	s := library()
	for _, f := range Worst(s, len(testLink)) {
		if f.Dropped == "link" || f.Dropped == "act" || f.Dropped == "end" || f.Dropped == "trend" {
			t.Errorf("%s loses its %s: %q", f.Cause, f.Dropped, f.Message)
		}
		if size(f.Message) > Limit {
			t.Errorf("%s: %d septets", f.Cause, size(f.Message))
		}
	}
	s.Tanks[0].Name = strings.Repeat("Long name ", 10)
	if f := Worst(s, len(testLink))[0]; f.Cut == 0 || f.Tank != "atrium" {
		t.Errorf("got %+v, want a cut name first", f)
	}
}
