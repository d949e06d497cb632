package column

import (
	"bufio"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
)

func repeat[T any](n int, at func(i int) T) []T {
	out := make([]T, n)
	for i := range out {
		out[i] = at(i)
	}
	return out
}

// bell is noise of whole numbers, about wide to either side: nothing that a
// processor could round in its own way.
func bell(r *rand.Rand, wide int) int {
	return (r.IntN(2*wide+1) + r.IntN(2*wide+1) + r.IntN(2*wide+1) + r.IntN(2*wide+1) - 4*wide) / 2
}

// wave goes up and down by high within long.
func wave(i, long, high int) int {
	at := i % long * 2 * high / long
	return min(at, 2*high-at)
}

func oddTimes() map[string][]int64 {
	r := rand.New(rand.NewPCG(3, 3))
	walk := func(n int, step func(i int) int64) []int64 {
		at := int64(1_930_000_000_000)
		return repeat(n, func(i int) int64 { at += step(i); return at })
	}
	return map[string][]int64{
		"none":             {},
		"one":              {-5},
		"two":              {math.MinInt64, math.MaxInt64},
		"ends":             {math.MinInt64, math.MinInt64 + 1, -1, 0, 1, math.MaxInt64 - 1, math.MaxInt64},
		"far jumps":        {math.MinInt64, -1 << 62, -1, 1 << 62, math.MaxInt64},
		"a millisecond":    walk(300, func(int) int64 { return 1 }),
		"ten seconds":      walk(300, func(int) int64 { return 10_000 }),
		"late":             walk(300, func(int) int64 { return 9_950 + r.Int64N(100) }),
		"a gap":            walk(300, func(i int) int64 { return 10_000 + int64(i/200%2*(200/max(i, 1)))*90_000 }),
		"began anew":       walk(300, func(i int) int64 { return 10_000 + int64(bit(i == 150))*3_333 }),
		"gaps throughout":  walk(300, func(i int) int64 { return 10_000 * (1 + int64(bit(i%9 == 4))) }),
		"a second between": walk(300, func(i int) int64 { return []int64{10_000, 10_000, 3_000, 7_000}[i%4*int(bit(i > 290))] }),
		"now and then":     walk(300, func(int) int64 { return 1 + r.Int64N(1<<r.IntN(40)) }),
		"gap to the end":   append(walk(20, func(int) int64 { return 10_000 }), math.MaxInt64),
	}
}

func oddValues() map[string][]float64 {
	r := rand.New(rand.NewPCG(4, 4))
	nan := func(payload uint64) float64 { return math.Float64frombits(0x7ff0_0000_0000_0000 | payload) }
	inf, minus := math.Inf(1), math.Copysign(0, -1)
	return map[string][]float64{
		"none":              {},
		"one":               {6.58},
		"two":               {6.58, 6.59},
		"one NaN":           {nan(1)},
		"every kind":        {0, minus, 1, -1, inf, -inf, nan(1), nan(1 << 51), math.Float64frombits(0xffff_ffff_ffff_ffff), math.SmallestNonzeroFloat64, -math.SmallestNonzeroFloat64, math.MaxFloat64, -math.MaxFloat64, 0.1, 1.0 / 3, 1 << 53, 1<<53 + 2},
		"all the same":      repeat(300, func(int) float64 { return 24.5 }),
		"all the same NaN":  repeat(300, func(int) float64 { return nan(7) }),
		"alternating":       repeat(300, func(i int) float64 { return float64(i % 2) }),
		"alternating far":   repeat(300, func(i int) float64 { return float64(i%2*2-1) * math.MaxFloat64 }),
		"pH":                repeat(300, func(i int) float64 { return float64(650+wave(i, 200, 20)+bell(r, 1)) / 100 }),
		"noisy":             repeat(300, func(int) float64 { return float64(bell(r, 9000)) / 1000 }),
		"a switch":          repeat(300, func(i int) float64 { return float64(i / 77 % 2) }),
		"a counter":         repeat(300, func(i int) float64 { return float64(1000 + 7*i + r.IntN(2)) }),
		"a counter reset":   repeat(300, func(i int) float64 { return float64(i % 200 * 12) }),
		"halves":            repeat(300, func(int) float64 { return 0.5 * float64(r.IntN(9)) }),
		"signed zeros":      repeat(300, func(int) float64 { return math.Copysign(float64(max(0, bell(r, 2))), float64(r.IntN(2))-0.5) }),
		"NaN among tenths":  repeat(300, func(i int) float64 { return []float64{24.5, nan(3)}[bit(i%30 == 7)] }),
		"NaN and reset":     repeat(300, func(i int) float64 { return []float64{24.5, nan(3)}[bit(i%3 == 1)] }),
		"more places later": repeat(300, func(i int) float64 { return []float64{24.5, 24.4375}[bit(i > 200 && i%7 == 0)] }),
		"more than sampled": repeat(300, func(i int) float64 { return []float64{24.5, 24.4375}[bit(i > 200 && i%10 > 0)] }),
		"32 bits":           repeat(300, func(int) float64 { return float64(float32(200+r.IntN(9)) / 10) }),
		"by tenths":         repeat(300, func(int) float64 { return float64(201+2*r.IntN(9)) * 0.1 }),
		"five ninths":       repeat(300, func(int) float64 { return float64(480+r.IntN(9)) * 5 / 90 }),
		"any doubles":       repeat(300, func(int) float64 { return math.Float64frombits(r.Uint64()) }),
		"random walk":       repeat(300, func(i int) float64 { return math.Sqrt(float64(i)) }),
		"a spike":           repeat(300, func(i int) float64 { return 20 + []float64{0, 1e9}[bit(i == 33)] }),
		"spikes both ways": repeat(600, func(i int) float64 {
			return float64(bell(r, 1)) + []float64{0, 1e9, -1e7}[int(bit(i%50 == 3))+2*int(bit(i%50 == 4))]
		}),
	}
}

func oddMarks() map[string][]uint8 {
	r := rand.New(rand.NewPCG(5, 5))
	return map[string][]uint8{
		"none":        {},
		"one":         {200},
		"all":         repeat(300, func(int) uint8 { return 255 }),
		"two runs":    repeat(300, func(i int) uint8 { return uint8(i / 200) }),
		"many runs":   repeat(300, func(i int) uint8 { return uint8(i / 9 % 2) }),
		"anything":    repeat(300, func(int) uint8 { return uint8(r.Uint32()) }),
		"alternating": repeat(7, func(i int) uint8 { return uint8(i % 2 * 128) }),
	}
}

func oddRows() map[string][]Row {
	r := rand.New(rand.NewPCG(6, 6))
	minus := math.Copysign(0, -1)
	sensor := func(n, noise int, exp uint8) []Row {
		return repeat(n, func(i int) Row {
			good := 60 - r.IntN(2)*r.IntN(2)
			lo, hi, sum := int64(math.MaxInt64), int64(math.MinInt64), int64(0)
			for range good {
				x := int64(24_500+wave(i, 100, 600)+bell(r, noise)) / 10
				lo, hi, sum = min(lo, x), max(hi, x), sum+x
			}
			return Row{int64(i) * 600_000, uint32(good), uint32(60 - good), FromDecimal(lo, exp), FromDecimal(hi, exp), FromDecimal(sum, exp)}
		})
	}
	gaps := slices.DeleteFunc(sensor(300, 10, 2), func(r Row) bool { return r.At/600_000%50 > 40 })
	someOdd := sensor(300, 10, 2)
	someOdd[7].Sum, someOdd[9].Max = 1.0/3, math.NaN()
	allOdd := sensor(40, 10, 2)
	for i := range allOdd {
		allOdd[i].Sum /= 3
	}
	empty := sensor(100, 10, 2)
	for i := range empty {
		if i%10 == 3 {
			empty[i] = Row{At: empty[i].At, Others: 60}
		}
	}
	return map[string][]Row{
		"none":      {},
		"one":       {{600_000, 60, 0, 6.5, 6.6, 393.2}},
		"ends":      {{-600_000 * 4, math.MaxUint32, math.MaxUint32, -math.MaxFloat64, math.MaxFloat64, math.Inf(1)}, {0, 0, 0, 1, minus, math.NaN()}},
		"off step":  {{1, 1, 0, 1, 1, 1}, {2, 1, 0, 1, 1, 1}},
		"quiet":     sensor(300, 1, 2),
		"a unit":    sensor(300, 6, 2),
		"noisy":     sensor(300, 200, 1),
		"gaps":      gaps,
		"some odd":  someOdd,
		"all odd":   allOdd,
		"none good": empty,
		"zeros": repeat(200, func(i int) Row {
			return Row{int64(i) * 600_000, 6, 0, []float64{0, minus, -1}[r.IntN(3)], []float64{0, minus, 1}[r.IntN(3)], float64(r.IntN(5) - 2)}
		}),
	}
}

// kinds is every column above by its name, how it is packed, and how it is
// compared with what it was made of.
func kinds() (names []string, pack map[string]func() []byte, same map[string]func([]byte) error) {
	pack, same = map[string]func() []byte{}, map[string]func([]byte) error{}
	add := func(name string, p func() []byte, s func([]byte) error) {
		names = append(names, name)
		pack[name], same[name] = p, s
	}
	wrong := func(got, want any, err error, equal bool) error {
		if err == nil && !equal {
			err = fmt.Errorf("came back as %v, want %v", got, want)
		}
		return err
	}
	for i, m := range []string{"fast", "small"} {
		mode := Mode(i)
		for name, ts := range oddTimes() {
			add("times/"+m+"/"+name, func() []byte { return AppendTimes(nil, mode, ts) }, func(b []byte) error {
				got, err := DecodeTimes(nil, b, len(ts))
				return wrong(got, ts, err, slices.Equal(got, ts))
			})
		}
		for name, vs := range oddValues() {
			add("values/"+m+"/"+name, func() []byte { return AppendValues(nil, mode, vs) }, func(b []byte) error {
				got, err := DecodeValues(nil, b, len(vs))
				return wrong(got, vs, err, sameValues(got, vs))
			})
		}
	}
	for name, ms := range oddMarks() {
		add("marks/"+name, func() []byte { return AppendMarks(nil, ms) }, func(b []byte) error {
			got, err := DecodeMarks(nil, b, len(ms))
			return wrong(got, ms, err, slices.Equal(got, ms))
		})
	}
	for name, rs := range oddRows() {
		add("rows/"+name, func() []byte { return AppendRows(nil, 600_000, rs) }, func(b []byte) error {
			got, err := DecodeRows(nil, b, len(rs))
			return wrong(got, rs, err, sameRows(got, rs))
		})
	}
	slices.Sort(names)
	return names, pack, same
}

func TestRoundTrip(t *testing.T) {
	names, pack, same := kinds()
	for _, name := range names {
		b := pack[name]()
		if err := same[name](b); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := same[name](append(slices.Clone(b), 0)); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s with a byte more: %v, want %v", name, err, ErrDamaged)
		}
		for n := range b {
			if n > 64 && n < len(b)-64 {
				continue
			}
			if err := same[name](b[:n:n]); err == nil {
				t.Errorf("%s cut to %d of %d bytes reads as if whole", name, n, len(b))
			}
		}
	}
}

var update = flag.Bool("update", false, "add to testdata what is missing there")

// TestFormat reads columns that earlier versions wrote: what once was on a disk
// is read for ever. With -update the columns that are missing are added; those
// that are there stay as they are.
func TestFormat(t *testing.T) {
	const path = "testdata/columns.txt"
	old := map[string]string{}
	f, err := os.Open(path)
	if err != nil && !*update {
		t.Fatal(err)
	}
	if err == nil {
		defer f.Close()
		lines := bufio.NewScanner(f)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			name, b, _ := strings.Cut(lines.Text(), "\t")
			old[name] = b
		}
	}
	names, pack, same := kinds()
	for _, name := range names {
		if _, there := old[name]; !there && *update {
			old[name] = hex.EncodeToString(pack[name]())
		}
		b, err := hex.DecodeString(old[name])
		if err == nil {
			err = same[name](b)
		}
		if err != nil {
			t.Errorf("%s, as it is in %s: %v", name, path, err)
		}
	}
	if *update {
		var out strings.Builder
		for _, name := range names {
			fmt.Fprintf(&out, "%s\t%s\n", name, old[name])
		}
		if err := os.WriteFile(path, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestLengths: a length that no column has costs nothing.
func TestLengths(t *testing.T) {
	same := AppendTimes(nil, Small, []int64{1, 2, 3, 4, 5})
	for _, n := range []int{-1, Max + 1, math.MaxInt, math.MinInt} {
		_, err1 := DecodeTimes(nil, same, n)
		_, err2 := DecodeValues(nil, []byte{0, 0, 0}, n)
		_, err3 := DecodeMarks(nil, []byte{0, 0}, n)
		_, err4 := DecodeRows(nil, []byte{16, 1}, n)
		for _, err := range []error{err1, err2, err3, err4} {
			if !errors.Is(err, ErrDamaged) {
				t.Errorf("length %d: %v, want %v", n, err, ErrDamaged)
			}
		}
	}
}

// TestFlips: whatever bit is turned, reading ends and tells or gives a column;
// who keeps columns keeps a checksum for the rest.
func TestFlips(t *testing.T) {
	names, pack, same := kinds()
	for _, name := range names {
		b := pack[name]()
		for i := range 8 * min(len(b), 80) {
			b[i/8] ^= 1 << (i % 8)
			same[name](b)
			b[i/8] ^= 1 << (i % 8)
		}
	}
}
