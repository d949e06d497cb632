package column

import (
	"encoding/binary"
	"slices"
)

// Times are written as what they differ from a grid by: at each a whole step
// more, and at a gap moved by more (or less).
const (
	timesGrid = 1 << 0 // a step follows
	timesGaps = 1 << 1 // and gaps
)

// A gap is where times leave the grid: readings are missing, or the sender
// began anew.
type gap struct {
	at    int // index of the first time after it
	moved int64
}

// AppendTimes appends a column of strictly rising Unix milliseconds to dst.
func AppendTimes(dst []byte, m Mode, ts []int64) []byte {
	mustFit(len(ts))
	p := getNumbers(len(ts))
	defer putNumbers(p)
	if step, spread := findStep(ts); step > 0 {
		var room [32]gap
		if gaps, ok := toGrid(*p, ts, step, spread, room[:0]); ok {
			head := byte(timesGrid)
			if len(gaps) > 0 {
				head |= timesGaps
			}
			dst = binary.AppendUvarint(append(dst, head), uint64(step))
			return appendSeries(appendGaps(dst, gaps, step), m, *p)
		}
	}
	copy(*p, ts)
	return appendSeries(append(dst, 0), m, *p)
}

// findStep is the step of the grid the times are on or near, and how far from
// it a step commonly is; 0 if they are too few or too far apart for one.
func findStep(ts []int64) (step, spread int64) {
	if len(ts) < 4 {
		return 0, 0
	}
	var room [31]int64
	some := room[:0]
	every := 1 + (len(ts)-2)/len(room)
	for i := 1; i < len(ts); i += every {
		some = append(some, ts[i]-ts[i-1])
	}
	slices.Sort(some)
	step = some[len(some)/2]
	if step <= 0 || step > 1<<40 {
		return 0, 0
	}
	for i, d := range some {
		some[i] = max(d-step, step-d)
	}
	slices.Sort(some)
	if spread = some[len(some)/2]; spread == 0 {
		return step, 0
	}
	// A median of 31 is not near enough where each is a little off: the mean
	// of all that are no gap is.
	sum, n := int64(0), int64(0)
	last := ts[0]
	for _, t := range ts[1:] {
		if r := t - last - step; -step <= 2*r && 2*r <= step {
			sum += r
			n++
		}
		last = t
	}
	if n == 0 {
		return 0, 0
	}
	return step + floorDiv(2*sum+n, 2*n), spread
}

// floorDiv rounds down where / rounds to zero; b is above zero.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// toGrid fills xs with ts less their grid, unless it has too many gaps to be
// one. It is the plain difference modulo 2^64 throughout, so nothing overflows.
func toGrid(xs, ts []int64, step, spread int64, gaps []gap) ([]gap, bool) {
	xs = xs[:len(ts)]
	last, grid := ts[0]-step, -step
	most := 8 + len(ts)/16
	for i, t := range ts {
		r := t - last - step
		last = t
		grid += step
		if 2*max(r, -r) > step || t-last < 0 {
			q := floorDiv(r+step/2, step)
			if rest := r - q*step; max(rest, -rest) <= 8*spread {
				r = q * step
			}
			if gaps = append(gaps, gap{i, r}); len(gaps) > most {
				return nil, false
			}
			grid += r
		}
		xs[i] = t - grid
	}
	return gaps, true
}

// appendGaps writes how many there are, then each: the distance from the one
// before twice over, one more where it is moved by odd milliseconds; then by
// how many of those or else by how many steps. No gaps are written as nothing.
func appendGaps(dst []byte, gaps []gap, step int64) []byte {
	if len(gaps) == 0 {
		return dst
	}
	dst = binary.AppendUvarint(dst, uint64(len(gaps)))
	last := 0
	for _, g := range gaps {
		far := uint64(g.at-last) << 1
		last = g.at
		if g.moved%step == 0 {
			dst = appendInt(binary.AppendUvarint(dst, far), g.moved/step)
		} else {
			dst = appendInt(binary.AppendUvarint(dst, far|1), g.moved)
		}
	}
	return dst
}

// gap is the next one after that at last.
func (r *reader) gap(last int, step int64) gap {
	far, moved := r.uint(), r.int()
	if far&1 == 0 {
		moved *= step
	}
	if far>>1 > Max {
		r.bad = true
		return gap{}
	}
	return gap{last + int(far>>1), moved}
}

// DecodeTimes appends the n times of the column b to dst. Bytes that are no
// such column are ErrDamaged, and dst is returned as it was.
func DecodeTimes(dst []int64, b []byte, n int) ([]int64, error) {
	return DecodeTimesFront(dst, b, n, n)
}

// DecodeTimesFront appends the first m of the n times of the column b, as
// DecodeTimes does. Damage behind these may go unseen.
func DecodeTimesFront(dst []int64, b []byte, n, m int) ([]int64, error) {
	if err := checkFront(n, m); err != nil {
		return dst, err
	}
	r := reader{b: b, front: m < n}
	head := r.byte()
	var step int64
	var gaps reader // where the gaps are read from, the second time
	count := uint64(0)
	if head&timesGrid != 0 {
		step = int64(r.uint())
	}
	if head&timesGaps != 0 {
		if count = r.uint(); count > uint64(n) {
			return dst, damaged("%d gaps in %d times", count, n)
		}
		gaps = r
		for range count {
			r.gap(0, step)
		}
	}
	if r.bad || head > timesGrid|timesGaps {
		return dst, damaged("head of times")
	}
	had := len(dst)
	dst = slices.Grow(dst, m)[:had+m]
	ts := dst[had:]
	if r.readSeries(ts); r.bad {
		return dst[:had], damaged("series of %d times", n)
	}
	if !fromGrid(ts, step, &gaps, count, r.front) {
		return dst[:had], damaged("%d times do not rise", n)
	}
	return dst, nil
}

// fromGrid adds the grid, and reports whether the times rise. Where they are the
// front of a column, gaps may lie behind them.
func fromGrid(ts []int64, step int64, gaps *reader, count uint64, front bool) bool {
	grid, from, rising := int64(0), 0, true
	for range count {
		g := gaps.gap(from, step)
		if front && g.at >= len(ts) {
			break
		}
		if g.at < from || g.at >= len(ts) {
			return false
		}
		rising = addGrid(ts, from, g.at, grid, step) && rising
		grid += int64(g.at-from)*step + g.moved
		from = g.at
	}
	return addGrid(ts, from, len(ts), grid, step) && rising
}

// addGrid does so for from <= i < to, and reports whether these rise.
func addGrid(ts []int64, from, to int, grid, step int64) bool {
	if from == to {
		return true
	}
	last := ts[from] + grid
	rising := from == 0 || last > ts[from-1]
	ts[from] = last
	for i := from + 1; i < to; i++ {
		grid += step
		t := ts[i] + grid
		if t <= last {
			rising = false
		}
		ts[i], last = t, t
	}
	return rising
}
