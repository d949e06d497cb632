package statistic

import "math"

// Regression is the straight line of least squares through points.
type Regression struct {
	Slope, Intercept     float64
	SlopeSE, InterceptSE float64 // standard errors
	ResidualSD           float64
	ResidualSS           float64 // sum of squares
	RegressionSS         float64
	R2                   float64 // share of the variance the line explains
}

// Regress fits y = Intercept + Slope*x. It is false for fewer than three points
// or where all x are equal.
func Regress(x, y []float64) (Regression, bool) {
	n := float64(len(x))
	if n < 3 {
		return Regression{}, false
	}
	mx, my := mean(x), mean(y)
	var sxx, sxy, syy float64
	for i := range x { // about the means, so that large values keep their digits
		dx, dy := x[i]-mx, y[i]-my
		sxx, sxy, syy = sxx+dx*dx, sxy+dx*dy, syy+dy*dy
	}
	if sxx == 0 {
		return Regression{}, false
	}
	r := Regression{Slope: sxy / sxx}
	r.Intercept = my - r.Slope*mx
	for i := range x {
		e := (y[i] - my) - r.Slope*(x[i]-mx)
		r.ResidualSS += e * e
	}
	r.RegressionSS = r.Slope * sxy
	r.ResidualSD = math.Sqrt(r.ResidualSS / (n - 2))
	r.SlopeSE = r.ResidualSD / math.Sqrt(sxx)
	r.InterceptSE = r.ResidualSD * math.Sqrt(1/n+mx*mx/sxx)
	if syy > 0 {
		r.R2 = 1 - r.ResidualSS/syy
	}
	return r, true
}

func mean(xs []float64) float64 {
	var m Moments
	for _, x := range xs {
		m.Take(x)
	}
	return m.Mean
}
