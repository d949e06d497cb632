package relation

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// beginning is how much of each file is learned from: what the benchmark's own
// rules give every entrant.
const beginning = 400

// floor is what the best published entrant comes to, 0.78, and some: F1 over all
// rows after the beginning of all files together.
const floor = 0.80

// trace is one file of the pump loop.
type trace struct {
	name string
	rows [][]float64
	bad  []bool // the truth
}

// TestPumpLoop: what is told of a pumped water loop from its beginning alone,
// against the truth of the Skoltech Anomaly Benchmark v0.9 (Katser & Kozitsin
// 2020, doi 10.34740/kaggle/dsv/1693952).
func TestPumpLoop(t *testing.T) {
	dir := os.Getenv("LENTIC_DATASETS")
	if dir == "" {
		t.Skip("LENTIC_DATASETS is not set: the pump loop's data is not there")
	}
	names, err := filepath.Glob(filepath.Join(dir, "pump-loop", "*.csv"))
	if err != nil || len(names) == 0 {
		t.Skipf("no pump-loop data under LENTIC_DATASETS: %v", err)
	}
	var all score
	for _, name := range names {
		x := read(t, name)
		s := x.judge(t)
		if x.bad == nil { // running as ever, in truth
			t.Logf("%-28s false %d of %d rows", x.name, s.false, len(x.rows)-beginning)
			continue
		}
		t.Logf("%-28s F1 %.3f  right %4d  false %4d  missed %4d", x.name, s.f1(), s.right, s.false, s.missed)
		all.add(s)
	}
	t.Logf("%-28s F1 %.3f  right %4d  false %4d  missed %4d", "all with truth", all.f1(), all.right, all.false, all.missed)
	if all.f1() < floor {
		t.Errorf("F1 of all files together is %.3f, want at least %.2f", all.f1(), floor)
	}
}

type score struct{ right, false, missed int }

func (s *score) add(o score) {
	s.right, s.false, s.missed = s.right+o.right, s.false+o.false, s.missed+o.missed
}

func (s score) f1() float64 {
	return 2 * float64(s.right) / max(1, float64(2*s.right+s.false+s.missed))
}

// judge learns from the beginning and is told the rest.
func (x trace) judge(t *testing.T) (s score) {
	m, c, err := Learn(x.rows[:beginning], Options{Fast: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	for i := beginning; i < len(x.rows); i++ {
		out, bad := c.Take(m, x.rows[i]).Out, x.bad != nil && x.bad[i]
		switch {
		case out && bad:
			s.right++
		case out:
			s.false++
		case bad:
			s.missed++
		}
	}
	return s
}

func read(t *testing.T, name string) trace {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma = ';'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	x := trace{name: filepath.Base(name)}
	for _, line := range lines[1:] {
		row := make([]float64, 8)
		for k := range row {
			if row[k], err = strconv.ParseFloat(line[k+1], 64); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		x.rows = append(x.rows, row)
		if len(line) > 9 {
			x.bad = append(x.bad, line[9] == "1.0")
		}
	}
	return x
}
