package statistic

// CusumRunLength is how many independent normal values a one-sided CUSUM takes
// on average until it signals: slack k, decision interval h and headstart are
// in standard deviations of one value, and so is the shift of their mean, which
// is 0 in control and positive towards the side that is watched. It solves
// Page's integral equation (1954) by Nystroem's method.
func CusumRunLength(k, h, headstart, shift float64) float64 {
	// L(z) = 1 + L(0) Below(k-z-shift) + integral over 0..h of L(x) density(x+k-z-shift):
	// the sum falls to 0, or moves to x. Row 0 is the start at 0.
	q := gauss(nodes(h), 0, h)
	n := len(q.x) + 1
	a, b := make([][]float64, n), make([]float64, n)
	for i := range n {
		z := 0.0
		if i > 0 {
			z = q.x[i-1]
		}
		a[i], b[i] = make([]float64, n), 1
		a[i][0] = -Below(k - z - shift)
		for j, x := range q.x {
			a[i][j+1] = -q.w[j] * density(x+k-z-shift)
		}
		a[i][i]++
	}
	solve(a, b)
	if headstart == 0 {
		return b[0]
	}
	length := 1 + b[0]*Below(k-headstart-shift)
	for j, x := range q.x {
		length += q.w[j] * b[j+1] * density(x+k-headstart-shift)
	}
	return length
}

// nodes is how many the rule needs for a width in standard deviations: three to
// each are exact far beyond the tables' digits.
func nodes(width float64) int { return min(max(24, int(3*width)+12), 600) }

// CusumRunLengthBoth is the same of a two-sided one, which signals when either
// sum passes h: Lucas & Crosier (1982), whose formula is exact where the sums
// cannot stand high together, as with k of at least headstart/h/2.
func CusumRunLengthBoth(k, h, headstart, shift float64) float64 {
	up, down := CusumRunLength(k, h, 0, shift), CusumRunLength(k, h, 0, -shift)
	if headstart == 0 {
		return 1 / (1/up + 1/down)
	}
	upAhead, downAhead := CusumRunLength(k, h, headstart, shift), CusumRunLength(k, h, headstart, -shift)
	return (upAhead*down + downAhead*up - up*down) / (up + down)
}

// highestH bounds decision intervals: the rule has nodes enough up to there.
const highestH = 190

// CusumLimit is the decision interval, in standard deviations, at which a
// one-sided CUSUM signals falsely once in runLength values. A two-sided one
// signals twice as often: ask for twice the run length. It takes some
// milliseconds, so it is for thresholds that are worked out once.
func CusumLimit(k, runLength float64) float64 {
	return threshold(runLength, highestH, func(h float64) float64 { return CusumRunLength(k, h, 0, 0) })
}
