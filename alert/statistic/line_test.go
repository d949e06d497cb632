package statistic

import "testing"

// TestTheilSenPublished: testdata/theil_sen.json, 1e-9 as that file asks (the
// worked example is printed to as many digits; slopes of the Nile and Norris
// relative).
func TestTheilSenPublished(t *testing.T) {
	type want struct {
		X, Y             []float64
		Slope, Low, High float64
		Joint            float64 `json:"intercept_joint"`
		Sorted           []float64
	}
	var w struct {
		Hollander want `json:"hollander_wolfe_9_1"`
		Nile      want
		Norris    want
	}
	object(t, "theil_sen.json", &w)
	var s strd
	object(t, "nist_strd.json", &s)
	w.Nile.X, w.Nile.Y = nile(t)
	w.Norris.X, w.Norris.Y = s.Norris.X, s.Norris.Y
	for name, d := range map[string]want{"Hollander & Wolfe 9.1": w.Hollander, "Nile": w.Nile, "Norris": w.Norris} {
		t.Run(name, func(t *testing.T) {
			l, ok := TheilSen(d.X, d.Y, 0.95)
			if !ok {
				t.Fatal("no slope")
			}
			near(t, "slope", l.Slope, d.Slope, 1e-9)
			near(t, "low", l.Low, d.Low, 1e-9)
			near(t, "high", l.High, d.High, 1e-9)
			near(t, "intercept", l.Intercept, d.Joint, 1e-9)
		})
	}
	if _, ok := TheilSen([]float64{1, 1}, []float64{2, 3}, 0.95); ok {
		t.Error("a slope of points above one another")
	}
	if l, ok := TheilSen([]float64{1, 2}, []float64{2, 3}, 0.95); !ok || l.At(3) != 4 {
		t.Errorf("two points: %+v", l)
	}
}

// TestRegressNorris: NIST StRD Norris, 1e-10 relative as testdata/nist_strd.json
// asks.
func TestRegressNorris(t *testing.T) {
	var s strd
	object(t, "nist_strd.json", &s)
	n := s.Norris
	r, ok := Regress(n.X, n.Y)
	if !ok {
		t.Fatal("no line")
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"slope", r.Slope, n.Slope}, {"intercept", r.Intercept, n.Intercept},
		{"slope's error", r.SlopeSE, n.SlopeSE}, {"intercept's error", r.InterceptSE, n.InterceptSE},
		{"residual sd", r.ResidualSD, n.ResidualSD}, {"residual squares", r.ResidualSS, n.ResidualSS},
		{"explained squares", r.RegressionSS, n.RegressionSS}, {"R2", r.R2, n.R2},
	} {
		near(t, c.what, c.got/c.want, 1, 1e-10)
	}
	if _, ok := Regress([]float64{1, 1, 1}, []float64{1, 2, 3}); ok {
		t.Error("a line through points above one another")
	}
}

// TestMomentsStRD: NIST StRD NumAcc4 and Michelso, tolerances as
// testdata/nist_strd.json asks.
func TestMomentsStRD(t *testing.T) {
	var s strd
	object(t, "nist_strd.json", &s)
	hard := []float64{10000000.2}
	for range 500 {
		hard = append(hard, 10000000.1, 10000000.3)
	}
	for _, tt := range []struct {
		name            string
		xs              []float64
		mean, sd, lag1  float64
		tmean, tsd, tl1 float64
	}{
		{"NumAcc4", hard, 10000000.2, 0.1, -0.999, 1e-8, 1e-9, 1e-7},
		{"Michelso", s.Michelso.X, s.Michelso.Mean, s.Michelso.SD, s.Michelso.Lag1, 1e-12, 1e-12, 1e-12},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var m Moments
			for _, x := range tt.xs {
				m.Take(x)
			}
			near(t, "mean", m.Mean, tt.mean, tt.tmean)
			near(t, "sd", m.SD(), tt.sd, tt.tsd)
			near(t, "lag 1", Autocorrelation(tt.xs, 1), tt.lag1, tt.tl1)
		})
	}
	if got := Autocorrelation([]float64{2, 2, 2}, 1); got != 0 {
		t.Errorf("of equal values: %v", got)
	}
}
