package statistic

import "math"

// HampelLongest is the longest window of a Hampel filter.
const HampelLongest = 15

// Hampel is a running window of the last values (Hampel 1974; Pearson 2002): a
// value far from the window's median, in robust standard deviations, is an
// outlier. It looks back only. The zero Hampel keeps HampelLongest values.
type Hampel struct {
	Length int // of the window, at most HampelLongest; 0: HampelLongest

	values [HampelLongest]float64
	n, at  int
}

// Take adds a value to the window, outlier or not: so a step is believed once it
// is the window's majority.
func (h *Hampel) Take(v float64) {
	length := h.length()
	h.values[h.at] = v
	if h.at++; h.at == length {
		h.at = 0
	}
	h.n = min(h.n+1, length)
}

// Usual is the window's median and its robust standard deviation, NaN before
// the first value.
func (h *Hampel) Usual() (median, sd float64) {
	w := h.values // a copy: Spread overwrites
	return Spread(w[:h.n])
}

// Distance is how many standard deviations v lies from the median; least is the
// smallest standard deviation to believe in, such as the resolution: equal
// values have none.
func (h *Hampel) Distance(v, least float64) float64 {
	median, sd := h.Usual()
	return math.Abs(v-median) / max(sd, least)
}

// Len is how many values the window holds.
func (h *Hampel) Len() int { return h.n }

func (h *Hampel) length() int {
	if h.Length <= 0 || h.Length > HampelLongest {
		return HampelLongest
	}
	return h.Length
}
