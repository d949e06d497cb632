package statistic

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// rows reads a table of testdata by its header: a missing number is NaN.
func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	in := csv.NewReader(strings.NewReader(string(raw)))
	in.Comment = '#'
	all, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, name := range all[0] {
			m[name] = r[i]
		}
		out = append(out, m)
	}
	if len(out) == 0 {
		t.Fatalf("%s: no rows", name)
	}
	return out
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	if s == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func object(t *testing.T, name string, v any) {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, v); err != nil {
		t.Fatal(err)
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

// digit is one unit of the last digit printed.
func digit(printed string) float64 {
	_, fraction, _ := strings.Cut(printed, ".")
	return math.Pow(10, -float64(len(fraction)))
}

func nile(t *testing.T) (years, flows []float64) {
	for _, r := range rows(t, "nile.csv") {
		years, flows = append(years, num(t, r["year"])), append(flows, num(t, r["flow"]))
	}
	return years, flows
}

// strd is NIST's reference datasets: testdata/nist_strd.json.
type strd struct {
	NumAcc4  struct{ Mean, SD, Lag1 float64 }
	Michelso struct {
		Mean, SD float64
		Lag1     float64 `json:"lag1_autocorrelation"`
		X        []float64
	}
	Norris struct {
		Intercept, Slope float64
		InterceptSE      float64 `json:"intercept_se"`
		SlopeSE          float64 `json:"slope_se"`
		ResidualSD       float64 `json:"residual_sd"`
		R2               float64
		ResidualSS       float64 `json:"residual_ss"`
		RegressionSS     float64 `json:"regression_ss"`
		X, Y             []float64
	}
}
