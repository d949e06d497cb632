package text

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
)

func rows(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all[1:]
}

// Source: 3GPP TS 23.038, 6.2.1 and 6.2.1.1, in testdata/gsm7.csv; exact.
func TestAlphabetIsThatOfTheStandard(t *testing.T) {
	listed := map[rune]bool{}
	for _, row := range rows(t, "testdata/gsm7.csv") {
		if row[3] == "ESC" {
			continue
		}
		n, err := strconv.ParseUint(strings.TrimPrefix(row[2], "U+"), 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		want, _ := strconv.Atoi(row[4])
		if got := cost[rune(n)]; got != want {
			t.Errorf("%s (%q): %d septets, want %d", row[2], rune(n), got, want)
		}
		listed[rune(n)] = true
	}
	if len(listed) != 137 {
		t.Errorf("the file lists %d characters, want 127 and 10", len(listed))
	}
	for r := range cost {
		if !listed[r] {
			t.Errorf("%q is not in the standard's alphabet", r)
		}
	}
}

// Source: 3GPP TS 23.040, 9.2.3.24, in testdata/sms_limits.csv; exact.
func TestLimitIsThatOfOneMessage(t *testing.T) {
	want := map[string]int{"gsm7_single": Limit, "extension_char_septets": size("€"), "example_160_a": 1, "example_161_a": 2, "example_80_euro": 1, "example_81_euro": 2}
	text := map[string]string{"example_160_a": strings.Repeat("a", 160), "example_161_a": strings.Repeat("a", 161),
		"example_80_euro": strings.Repeat("€", 80), "example_81_euro": strings.Repeat("€", 81)}
	found := 0
	for _, row := range rows(t, "testdata/sms_limits.csv") {
		w, ok := want[row[0]]
		if !ok {
			continue
		}
		found++
		if row[1] != strconv.Itoa(w) {
			t.Errorf("%s: want %s, have %d", row[0], row[1], w)
		}
		if s, ok := text[row[0]]; ok {
			if one := size(s) <= Limit; one != (row[1] == "1") {
				t.Errorf("%s: fits one message: %v, want %s parts", row[0], one, row[1])
			}
		}
	}
	if found != len(want) {
		t.Errorf("%d of %d rows found", found, len(want))
	}
}

func TestGSM7(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"plain stays", "Atrium island", "Atrium island"},
		{"in the alphabet stays", "Empfang Süd, café à l'étage", "Empfang Süd, café à l'étage"},
		{"accents come off", "Žižkov Tromsø â î ş", "Zizkov Tromsø a i s"},
		{"quotes and dashes", "“Lobby” – it’s…", "\"Lobby\" - it's..."},
		{"newlines and tabs are one space", " a\r\n\tb ", "a b"},
		{"degree and subscript", "25 °C CO₂", "25 degC CO2"},
		{"Cyrillic", "Щука Ёж", "Shchuka Yozh"},
		{"Greek", "Αθήνα Δ", "Athina Δ"},
		{"emoji go", "Tank 🐟 one", "Tank one"},
		{"other scripts go", "水草", ""},
		{"NUL goes", "a\x00b", "a b"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := GSM7(c.in)
			if got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
			if _, ok := Septets(got); !ok {
				t.Errorf("%q is not all in the alphabet", got)
			}
		})
	}
}
