package detect

// middle is the median of three.
func middle(ps []point) float64 {
	return middleOf(ps[0].v, ps[1].v, ps[2].v)
}

// aHair is more than roughly is ever away from mean.
const aHair = 1e-6

// roughly is mean in an eighth of the time, but for its last digits: eight sums at
// once need not wait for each other.
func roughly(ps []point) float64 {
	var a, b, c, d, e, f, g, h float64
	rest := ps
	for len(rest) >= 8 {
		x := (*[8]point)(rest)
		a, b, c, d = a+x[0].v, b+x[1].v, c+x[2].v, d+x[3].v
		e, f, g, h = e+x[4].v, f+x[5].v, g+x[6].v, h+x[7].v
		rest = rest[8:]
	}
	for _, p := range rest {
		a += p.v
	}
	return (a + b + c + d + e + f + g + h) / float64(len(ps))
}

func mean(ps []point) float64 {
	sum := 0.0
	for _, p := range ps {
		sum += p.v
	}
	return sum / float64(len(ps))
}
