package detect

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
	"time"
)

// TestSlopeAgainstHollanderWolfe: Theil (1950), Sen (1968); the data of
// Hollander, Wolfe & Chicken, Example 9.1, the slope by SciPy 1.10.1, to 1e-9.
func TestSlopeAgainstHollanderWolfe(t *testing.T) {
	b, err := os.ReadFile("testdata/theil_sen.json")
	if err != nil {
		t.Fatal(err)
	}
	var f struct {
		Example struct {
			X, Y  []float64
			Slope float64
		} `json:"hollander_wolfe_9_1"`
	}
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	var ps []point
	for i, x := range f.Example.X {
		ps = append(ps, point{zero.Add(time.Duration(x * float64(time.Hour))), f.Example.Y[i]})
	}
	got, ok := slope(ps, 4*time.Hour)
	if !ok || math.Abs(got-f.Example.Slope) > 1e-9 {
		t.Errorf("slope %v %v, want %v", got, ok, f.Example.Slope)
	}
}

func TestSlope(t *testing.T) {
	line := func(n int, v func(i int) float64) []point {
		var ps []point
		for i := range n {
			ps = append(ps, point{zero.Add(time.Duration(i) * time.Minute), v(i)})
		}
		return ps
	}
	tests := []struct {
		name   string
		ps     []point
		window time.Duration
		want   float64
		ok     bool
	}{
		{"a line", line(11, func(i int) float64 { return float64(i) / 60 }), 10 * time.Minute, 1, true},
		{"a line of many points", line(200, func(i int) float64 { return float64(i) / 60 }), 200 * time.Minute, 1, true},
		{"two wild points", line(11, func(i int) float64 {
			if i == 3 || i == 8 {
				return 40
			}
			return float64(i) / 60
		}), 10 * time.Minute, 1, true},
		{"three points", line(3, func(i int) float64 { return 1 }), 2 * time.Minute, 0, false},
		{"a window not half full", line(5, func(i int) float64 { return 1 }), 10 * time.Minute, 0, false},
	}
	for _, c := range tests {
		got, ok := slope(c.ps, c.window)
		if ok != c.ok || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v %v, want %v %v", c.name, got, ok, c.want, c.ok)
		}
	}
	if stepped(line(11, func(i int) float64 { return -float64(i) / 60 })) {
		t.Error("a line is taken for a step")
	}
	if stepped(line(16, func(i int) float64 { return math.Floor(661-float64(i)/3) / 100 })) {
		t.Error("a line of 0.2 an hour, read in hundredths, is taken for a step")
	}
	if !stepped(line(11, func(i int) float64 {
		if i < 5 {
			return 6.6
		}
		return 6.5
	})) {
		t.Error("a step is not seen")
	}
}

// TestHingeAgainstHandSums: five points worked by hand: x 0..4 h, y 1 2 2 3 5;
// slope 0.9, sum of squares 10 in x and 1.1 left. The same behind three that
// lie level at 1, hinged at the first: x 0 0 0 0 1 2 3 4, y 1 1 1 1 2 2 3 5;
// sums of x 10, x^2 30, y 16, y^2 46, xy 35; sxx 17.5, sxy 15, syy 14.
func TestHingeAgainstHandSums(t *testing.T) {
	line := func(ys ...float64) (ps []point) {
		for i, y := range ys {
			ps = append(ps, point{zero.Add(time.Duration(i) * time.Hour), y})
		}
		return ps
	}
	for _, c := range []struct {
		name string
		ps   []point
		from time.Duration
		want hinge
	}{
		{"climbing all along", line(1, 2, 2, 3, 5), 0, hinge{0.9, 3.6, 10, 1.1}},
		{"climbing from the fourth on", line(1, 1, 1, 1, 2, 2, 3, 5), 3 * time.Hour, hinge{15 / 17.5, 60 / 17.5, 17.5, 14 - 225/17.5}},
	} {
		got := hingeOf(c.ps, zero.Add(c.from))
		for _, d := range []float64{got.perHour - c.want.perHour, got.rise - c.want.rise, got.spread - c.want.spread, got.rest - c.want.rest} {
			if math.Abs(d) > 1e-9 {
				t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
			}
		}
	}
}

// TestDeadbandsAndDelaysAgainstEEMUA: no deadband is narrower, and no delay
// shorter, than what ISA-18.2 and EEMUA 191 recommend as a start, except where
// a deadline leaves no room and its file says so.
func TestDeadbandsAndDelaysAgainstEEMUA(t *testing.T) {
	f, err := os.ReadFile("testdata/alarm_benchmarks.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(f)))
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	figure := map[string]string{}
	for _, row := range rows {
		figure[row[0]] = row[1]
	}
	// The ranges the water of a planted tank moves in: common practice.
	const phRange, warmRange = 4.0, 30.0
	tests := []struct {
		metric string
		got    string
		ok     bool
	}{
		{"deadband_flow", "5 %", stallBack-stallShare >= 0.05},
		{"deadband_temperature", "1 %", warmthBack >= 0.01*warmRange-1e-9},
		{"deadband_composition", "1 %", phBack >= 0.01*phRange && overshoot-overshootBack >= 0.01*phRange-1e-9},
		{"delay_flow", "15", stallOn >= 15*time.Second && stallOff >= 15*time.Second},
		{"delay_level", "60", runawayOn >= time.Minute && runawayOff >= time.Minute},
		{"delay_temperature", "60", warmthOn >= time.Minute && warmthOff >= time.Minute},
	}
	for _, c := range tests {
		if figure[c.metric] != c.got || !c.ok {
			t.Errorf("%s: the table says %q, checked against %q: kept %v", c.metric, figure[c.metric], c.got, c.ok)
		}
	}
}
