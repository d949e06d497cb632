package water

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// table reads a published table: its rows as maps from column to text. Lines
// that begin with # say where it comes from.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(b)))
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, v := range row {
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// near fails unless got lies within tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %g, want %g within %g", what, got, want, tolerance)
	}
}

// enough fails when a table was checked in fewer places than it has.
func enough(t *testing.T, got, want int) {
	t.Helper()
	if got != want {
		t.Errorf("%d values checked, want %d", got, want)
	}
}
