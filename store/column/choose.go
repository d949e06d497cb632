package column

import (
	"math"
	"math/bits"
	"slices"
)

const (
	// sampleLen is how many numbers models are tried on at most, half of
	// them from the first half and half from the last quarter.
	sampleLen = 512
	// roughLen is how many are enough to tell which are worth to be weighed.
	roughLen = 192
	// finalists are how many models are weighed in earnest for the smallness
	// of their residuals alone.
	finalists = 2
)

// trial is the room for trying models.
type trial struct {
	sample [2][]int64
	res    [sampleLen]int64
	where  [sampleLen]uint8
	n      int // in the whole series
}

type candidate struct {
	model
	rough int // bits of the sample's residuals, their distribution aside
}

// choose is the model that codes a sample of ys in the fewest bits, and the
// shift for its residuals. Weighed are those that leave the smallest, and those
// that contexts suit best, whose residuals need not be small.
func (t *trial) choose(ys, steps []int64) (best model, shift uint) {
	var room [2 * (still + 1)]candidate
	all := room[:0]
	for _, zs := range [][]int64{ys, steps} {
		stepwise := len(all) > 0
		t.take(zs, roughLen)
		for k := uint(0); k <= still; k++ {
			if stepwise && k != 0 && k != 2 && k != still { // few will do for steps
				continue
			}
			c := candidate{model: model{follow: k, steps: stepwise, start: startOf(zs, k)}}
			var lens [65]int
			for _, d := range t.miss(c.model) {
				lens[lenOf(d)]++
			}
			for l, n := range lens {
				c.rough += l * n
			}
			all = append(all, c)
		}
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return a.rough - b.rough })
	least := math.Inf(1)
	for i, c := range all {
		if i >= finalists && (c.steps || c.follow < 2 || c.follow > 4) {
			continue
		}
		if c.steps {
			t.take(steps, sampleLen)
		} else {
			t.take(ys, sampleLen)
		}
		if bits, contexts, sh := t.cost(c.model); bits < least {
			least, best, shift = bits, c.model, sh
			best.contexts = contexts
		}
	}
	return best, shift
}

// lenOf is how many bits a number has beside its sign.
func lenOf(d int64) int { return bits.Len64(uint64(d ^ d>>63)) }

// startOf is a first forecast near what comes: the first number for a model
// that follows at once, else the middle of the first few, or of some from all
// over where it must do for all.
func startOf(zs []int64, follow uint) int64 {
	if follow < 2 {
		return 0
	}
	var room [65]int64
	few := append(room[:0], zs[:min(15, len(zs))]...)
	if follow == still {
		few = room[:0]
		for i := 0; i < len(zs); i += 1 + len(zs)/64 {
			few = append(few, zs[i])
		}
	}
	slices.Sort(few)
	mid := few[len(few)/2]
	if mid < -1<<20 || mid > 1<<20 {
		return 0
	}
	return mid
}

// take takes a sample of at most that length.
func (t *trial) take(zs []int64, most int) {
	t.n = len(zs)
	if len(zs) <= most {
		t.sample = [2][]int64{zs}
		return
	}
	part := most / 2
	t.sample[0] = zs[len(zs)/3-part/2:][:part]
	t.sample[1] = zs[len(zs)-len(zs)/8-part:][:part]
}

// miss is what the model leaves of the sample.
func (t *trial) miss(m model) []int64 {
	n := 0
	for _, s := range t.sample {
		if len(s) == 0 {
			continue
		}
		if m.follow != still && len(t.sample[1]) > 0 {
			m.start = s[0]
		}
		m.miss(s, t.res[n:], t.where[n:])
		n += len(s)
	}
	return t.res[:n]
}

// cost is how many bits the whole series would take by that model, whether
// contexts were worth their tables, and the shift.
func (t *trial) cost(m model) (least float64, contexts bool, shift uint) {
	res := t.miss(m)
	least, shift = shiftCost(res, t.n)
	if shift > 0 || m.follow == still || m.follow == 0 {
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
		bits += hs[i].bits(far[i], float64(t.n)/float64(len(res)))
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
	var room [2]uint
	for _, s := range shifts(res, room[:0]) {
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
	return 6 + lenOf(d)
}

// bits is what times as many numbers as were counted take, and the tables; far
// is what their escapes take.
func (h *hist) bits(far int, times float64) float64 {
	const perTable = levelBits - 1 // for each symbol; a little less, as many are alike
	total, sum, kinds := uint32(h.escs), xlogx(h.escs), 0
	for _, c := range h.counts {
		if c > 0 {
			sum += xlogx(c)
			total += c
			kinds++
		}
	}
	return (xlogx(total)-sum+float64(far))*times + float64(kinds*perTable)
}

// xlogx is x times its binary logarithm; of 0 it is 0.
func xlogx(x uint32) float64 {
	if x < uint32(len(xlogxs)) {
		return xlogxs[x]
	}
	return float64(x) * math.Log2(float64(x))
}

var xlogxs = func() (all [sampleLen + 1]float64) {
	for x := 1; x < len(all); x++ {
		all[x] = float64(x) * math.Log2(float64(x))
	}
	return all
}()

// shifts are the numbers of low bits worth trying: those that leave half, or
// most, of the residuals within a few symbols.
func shifts(res []int64, ss []uint) []uint {
	var lens [65]int
	for _, d := range res {
		lens[lenOf(d)]++
	}
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
