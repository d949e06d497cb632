package main

import (
	"math"

	"lentic/store/bench/tanks"
)

// limits is how small readings could be kept, in bytes each.
type limits struct {
	order0 float64 // no coder that looks at one residual at a time beats it
	noise  float64 // nothing lossless beats it
}

// limits looks at some days of some tanks.
func (b *bench) limits(stamps tanks.Stamps, tankCount, days int) limits {
	src := tanks.NewSource(tankCount, stamps, b.begin(), b.seed)
	src.Count = true
	series := make([][]tanks.Reading, tankCount*tanks.Sensors)
	var e entropy
	var rs []tanks.Reading
	for turn := range days * 8640 {
		rs = src.Next(rs[:0])
		for _, r := range rs {
			series[r.Series] = append(series[r.Series], r)
		}
		if turn%4320 == 4319 { // 12 hours
			for i := range series {
				e.add(series[i], stamps != tanks.Message || i%tanks.Sensors == 0)
				series[i] = series[i][:0]
			}
		}
	}
	return limits{e.bits / float64(e.n) / 8, src.NoiseBits() / 8}
}

// entropy sums up the order-0 entropy of stretches of one sensor: of what is
// left of its values by the best of some simple predictors, and of its stamps
// against their turn. What a coder needs to tell its tables is not in it.
type entropy struct {
	bits float64
	n    int
}

func (e *entropy) add(rs []tanks.Reading, stamps bool) {
	values, turns := make([]int64, len(rs)), make([]int64, len(rs))
	for i, r := range rs {
		values[i] = int64(math.Round(r.Value * tanks.Steps(r.Series)))
		turns[i] = r.At - rs[0].At - int64(i)*tanks.Every
	}
	best := math.Inf(1)
	for _, window := range []int{0, 1, 2, 4, 8, 16, 32, 64} {
		best = min(best, order0(foretell(values, window)))
	}
	e.bits += best
	if stamps {
		e.bits += order0(turns)
	}
	e.n += len(rs)
}

// foretell leaves what the mean of that many values before does not tell; 0
// leaves the values.
func foretell(vs []int64, window int) []int64 {
	left := make([]int64, len(vs))
	sum, n := int64(0), 0
	for i, v := range vs {
		left[i] = v
		if window == 0 {
			continue
		}
		if n > 0 {
			left[i] = v - int64(math.Round(float64(sum)/float64(n)))
		}
		sum, n = sum+v, n+1
		if n > window {
			sum, n = sum-vs[i-window], n-1
		}
	}
	return left
}

// order0 is the entropy in bits of all of them.
func order0(vs []int64) float64 {
	count := map[int64]int{}
	for _, v := range vs {
		count[v]++
	}
	bits := 0.0
	for _, n := range count {
		bits -= float64(n) * math.Log2(float64(n)/float64(len(vs)))
	}
	return bits
}
