package column

import (
	"encoding/binary"
	"slices"
)

// A sensor that counts steps and a gateway that makes odd doubles of them, as
// by five ninths, give few different values and no decimals. They are written
// once, in order, and each reading as the place of its own among them: as good
// as the steps themselves.

// fewness is how often each value must occur on average for that.
const fewness = 4

// distinct gives the different numbers of xs in order and leaves in xs their
// places; nil, and xs as it was, where they are not few.
func distinct(xs []int64) []int64 {
	if len(xs) < 2*fewness {
		return nil
	}
	var room [256]int64
	some := room[:0]
	for i := 0; i < len(xs); i += 1 + len(xs)/len(room) {
		some = append(some, xs[i])
	}
	slices.Sort(some)
	if n := len(some); len(slices.Compact(some)) > n*3/4 {
		return nil
	}
	all := slices.Clone(xs)
	slices.Sort(all)
	all = slices.Compact(all)
	if len(all) > len(xs)/fewness {
		return nil
	}
	for i, x := range xs {
		xs[i] = int64(placeOf(all, x))
	}
	return all
}

func placeOf(all []int64, x int64) int {
	i, _ := slices.BinarySearch(all, x)
	return i
}

// appendDistinct writes them: how many, and a series behind its length.
func appendDistinct(dst []byte, all []int64) []byte {
	return appendPart(binary.AppendUvarint(dst, uint64(len(all))), appendSeries(nil, Small, all))
}

// distinct is what appendDistinct wrote, at most so many.
func (r *reader) distinct(most int) []int64 {
	n := r.uint()
	p := r.part()
	if n > uint64(most) {
		r.bad = true
	}
	if r.bad {
		return nil
	}
	all := make([]int64, n)
	p.readSeries(all)
	r.bad = p.bad
	return all
}

// fromPlaces puts the numbers in their places' stead, and reports whether all
// had one.
func fromPlaces(xs, all []int64) bool {
	for i, x := range xs {
		if uint64(x) >= uint64(len(all)) {
			return false
		}
		xs[i] = all[x]
	}
	return true
}
