package page

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"lentic/collector/aquarium"
)

// TestScales holds the still strips to the table that the moving ones are held
// to as well (web/ui/script/test/scales.test.js). Its numbers follow from the
// rule: the data, bounds within one least span of them, at least the least
// span, and 6 % of room at each end that is not zero.
func TestScales(t *testing.T) {
	b, err := os.ReadFile("testdata/scales.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Name     string
		Lo, Hi   *float64
		MinSpan  float64
		FromZero bool
		Bounds   []float64
		Span     [2]float64
		Rules    []float64
	}
	if err := json.Unmarshal(b, &cases); err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		st := Strip{MinSpan: c.MinSpan, FromZero: c.FromZero}
		for _, at := range c.Bounds {
			st.Bounds = append(st.Bounds, Bound{At: at})
		}
		var ss []Series
		if c.Lo != nil {
			ss = []Series{{T: []aquarium.Instant{1}, Min: []float64{*c.Lo}, Mean: []float64{*c.Lo}, Max: []float64{*c.Hi}}}
		}
		got := scaleOf(&st, ss)
		if !near9(got.lo, c.Span[0]) || !near9(got.hi, c.Span[1]) {
			t.Errorf("%s: got %v to %v, want %v", c.Name, got.lo, got.hi, c.Span)
		}
		rules := got.rules()
		same := len(rules) == len(c.Rules)
		for i := 0; same && i < len(rules); i++ {
			same = near9(rules[i], c.Rules[i])
		}
		if !same {
			t.Errorf("%s: got rules %v, want %v", c.Name, rules, c.Rules)
		}
	}
}

func near9(a, b float64) bool { return math.Abs(a-b) < 1e-9 }
