package column

import (
	"math"
	"math/bits"
	"slices"
)

// sampleLen is how many numbers models are tried on at most, half of them from
// the first third and half from the last.
const sampleLen = 512

// trial is the room for trying models.
type trial struct {
	sample [2][]int64
	res    [sampleLen]int64
	where  [sampleLen]uint8
	n      int // in the whole series
}

// choose is the model that codes a sample of ys in the fewest bits, and the
// shift for its residuals.
func choose(ys []int64, steps []int64) (best model, shift uint) {
	least := math.Inf(1)
	for _, s := range []bool{false, true} {
		zs := ys
		if s {
			zs = steps
		}
		t := trial{n: len(zs)}
		t.take(zs)
		for k := uint(0); k <= still; k++ {
			if s && k&1 == 1 && k != still { // every second will do for steps
				continue
			}
			m := model{follow: k, steps: s, start: startOf(zs, k)}
			bits, contexts, sh := t.cost(m)
			if bits < least {
				least, best, shift = bits, m, sh
				best.contexts = contexts
			}
		}
	}
	return best, shift
}

// startOf is a first forecast near what comes: the first number for a model
// that follows at once, else the middle of the first few, or of some from all
// over where it must do for all.
func startOf(zs []int64, follow uint) int64 {
	if follow < 2 {
		return 0
	}
	few := zs[:min(15, len(zs))]
	if follow == still {
		few = make([]int64, 0, 64)
		for i := 0; i < len(zs); i += 1 + len(zs)/64 {
			few = append(few, zs[i])
		}
	}
	few = slices.Clone(few)
	slices.Sort(few)
	mid := few[len(few)/2]
	if mid < -1<<20 || mid > 1<<20 {
		return 0
	}
	return mid
}

func (t *trial) take(zs []int64) {
	if len(zs) <= sampleLen {
		t.sample[0] = zs
		return
	}
	const half = sampleLen / 2
	t.sample[0] = zs[len(zs)/3-half/2:][:half]
	t.sample[1] = zs[len(zs)-half-len(zs)/8:][:half]
}

// cost is how many bits the whole series would take by that model, whether
// contexts were worth their tables, and the shift.
func (t *trial) cost(m model) (least float64, contexts bool, shift uint) {
	n := 0
	for i, s := range t.sample {
		if len(s) == 0 {
			continue
		}
		if m.follow != still && (i > 0 || t.n > sampleLen) {
			m.start = s[0]
		}
		m.miss(s, t.res[n:], t.where[n:])
		n += len(s)
	}
	res := t.res[:n]
	least, shift = shiftCost(res, t.n)
	if shift > 0 || m.follow == still {
		return least, false, shift
	}
	var hs [contextTables]hist
	var far [contextTables]int
	for i, d := range res {
		// Rounded to the nearest the image is just the other sign, and where
		// the same parts are told apart the cost is the same.
		c := t.where[i]
		if c >= contextTables {
			c, d = 2*contextTables-1-c, -d
		}
		far[c] += hs[c].count(d)
	}
	bits := 0.0
	for i := range hs {
		bits += hs[i].bits(far[i], float64(t.n)/float64(n))
	}
	if bits < least {
		return bits, true, 0
	}
	return least, false, 0
}

// shiftCost is how many bits n residuals like res take, and the shift for it.
func shiftCost(res []int64, n int) (least float64, shift uint) {
	least = math.Inf(1)
	if len(res) == 0 {
		return 0, 0
	}
	for _, s := range shifts(res) {
		if bits := costAt(res, s, n); bits < least {
			least, shift = bits, s
		}
	}
	return least, shift
}

func costAt(res []int64, shift uint, n int) float64 {
	if len(res) == 0 {
		return 0
	}
	var h hist
	far := 0
	for _, d := range res {
		if b := h.count(d >> shift); b > 0 {
			far += b + int(shift)
		}
	}
	return h.bits(far, float64(n)/float64(len(res))) + float64(shift)*float64(n)
}

// count adds a symbol, and is the bits that an escape takes besides its code.
func (h *hist) count(d int64) int {
	h.add(d)
	if uint64(d-symbolMin) < uint64(len(h.counts)) {
		return 0
	}
	return 6 + bits.Len64(uint64(d^d>>63))
}

// bits is what times as many numbers as were counted take, and the tables; far
// is what their escapes take.
func (h *hist) bits(far int, times float64) float64 {
	total, sum, kinds := float64(h.escs), 0.0, 0
	plogp := func(c uint32) {
		if c > 0 {
			sum += float64(c) * math.Log2(float64(c))
			kinds++
		}
	}
	for _, c := range h.counts {
		plogp(c)
		total += float64(c)
	}
	plogp(h.escs)
	if total == 0 {
		return 0
	}
	return (total*math.Log2(total)-sum+float64(far))*times + float64(kinds*5)
}

// shifts are the numbers of low bits worth trying: none, and those that leave
// the middle, or most, of the residuals within a few symbols.
func shifts(res []int64) []uint {
	var lens [65]int
	for _, d := range res {
		lens[bits.Len64(uint64(d^d>>63))]++
	}
	ss := make([]uint, 0, 3)
	below, at := 0, 0
	for _, share := range []int{len(res) / 2, len(res) * 7 / 8} {
		for below+lens[at] <= share {
			below += lens[at]
			at++
		}
		s := uint(min(maxShift, max(0, at-3)))
		if len(ss) == 0 || ss[len(ss)-1] != s {
			ss = append(ss, s)
		}
	}
	return ss
}
