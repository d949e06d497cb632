package column

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"
)

func sameValues(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) })
}

func roundTimes(t *testing.T, ts []int64) {
	t.Helper()
	for _, m := range []Mode{Fast, Small} {
		b := AppendTimes([]byte("before"), m, ts)
		got, err := DecodeTimes([]int64{7}, b[6:], len(ts))
		if err != nil || got[0] != 7 || !slices.Equal(got[1:], ts) {
			t.Fatalf("mode %d: %d times came back as %v, %v; want %v", m, len(ts), got[1:], err, ts)
		}
		for _, n := range []int{0, len(ts) / 3, len(ts) / 2} {
			if got, err := DecodeTimesFront(nil, b[6:], len(ts), n); err != nil || !slices.Equal(got, ts[:n]) {
				t.Fatalf("mode %d: the first %d of %d times came back as %v, %v; want %v", m, n, len(ts), got, err, ts[:n])
			}
		}
	}
}

func roundValues(t *testing.T, vs []float64) {
	t.Helper()
	for _, m := range []Mode{Fast, Small} {
		b := AppendValues([]byte("before"), m, vs)
		got, err := DecodeValues([]float64{7}, b[6:], len(vs))
		if err != nil || got[0] != 7 || !sameValues(got[1:], vs) {
			t.Fatalf("mode %d: %d values came back as %v, %v; want %v", m, len(vs), got[1:], err, vs)
		}
		for _, n := range []int{0, len(vs) / 3, len(vs) / 2} {
			if got, err := DecodeValuesFront(nil, b[6:], len(vs), n); err != nil || !sameValues(got, vs[:n]) {
				t.Fatalf("mode %d: the first %d of %d values came back as %v, %v; want %v", m, n, len(vs), got, err, vs[:n])
			}
		}
	}
}

// FuzzTimes makes times of the input and wants them back.
func FuzzTimes(f *testing.F) {
	f.Add(int64(0), []byte("0123456789abcdef0123456789abcdef"))
	f.Add(int64(math.MaxInt64-5), []byte{})
	f.Fuzz(func(t *testing.T, start int64, data []byte) {
		ts := []int64{start}
		for len(data) >= 9 {
			step := binary.LittleEndian.Uint64(data) >> (data[8] % 64)
			data = data[9:]
			last := ts[len(ts)-1]
			if next := last + int64(step); next > last {
				ts = append(ts, next)
			}
		}
		roundTimes(t, ts)
	})
}

// FuzzValues takes the input as doubles, some exact, some as decimals.
func FuzzValues(f *testing.F) {
	f.Add(uint8(0), []byte("0123456789abcdef0123456789abcdef"))
	f.Add(uint8(3), []byte("0123456789abcdef0123456789abcdef"))
	f.Fuzz(func(t *testing.T, exp uint8, data []byte) {
		var vs []float64
		for len(data) >= 9 {
			bits, kind := binary.LittleEndian.Uint64(data), data[8]
			data = data[9:]
			switch v := math.Float64frombits(bits); {
			case kind < 32:
				vs = append(vs, v)
			case kind < 64 && len(vs) > 0:
				vs = append(vs, vs[len(vs)-1])
			default:
				vs = append(vs, FromDecimal(int64(bits)>>(11+kind%53), exp%(maxExp+1)))
			}
		}
		roundValues(t, vs)
	})
}

// FuzzMarks takes the input as marks, short of it and at length.
func FuzzMarks(f *testing.F) {
	f.Add([]byte{}, uint8(1))
	f.Add([]byte{0, 0, 0, 1, 0, 128}, uint8(200))
	f.Fuzz(func(t *testing.T, data []byte, times uint8) {
		var ms []uint8
		for _, m := range data[:min(len(data), 100)] {
			for range 1 + int(m%2)*int(times) {
				ms = append(ms, m)
			}
		}
		b := AppendMarks([]byte("before"), ms)
		got, err := DecodeMarks([]uint8{7}, b[6:], len(ms))
		if err != nil || got[0] != 7 || !slices.Equal(got[1:], ms) {
			t.Fatalf("%v came back as %v, %v", ms, got[1:], err)
		}
	})
}

func sameRows(a, b []Row) bool {
	return slices.EqualFunc(a, b, func(x, y Row) bool {
		return x.At == y.At && x.Good == y.Good && x.Others == y.Others &&
			sameValues([]float64{x.Min, x.Max, x.Sum}, []float64{y.Min, y.Max, y.Sum})
	})
}

func roundRows(t *testing.T, step int64, rows []Row) {
	t.Helper()
	b := AppendRows([]byte("before"), step, rows)
	got, err := DecodeRows([]Row{{Good: 7}}, b[6:], len(rows))
	if err != nil || got[0].Good != 7 || !sameRows(got[1:], rows) {
		t.Fatalf("step %d: %d rows came back as %v, %v; want %v", step, len(rows), got[1:], err, rows)
	}
}

// FuzzRows makes rows of the input and wants them back.
func FuzzRows(f *testing.F) {
	f.Add(uint32(60_000), int32(5), []byte("0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"))
	f.Add(uint32(1), int32(-5), make([]byte, 80))
	f.Fuzz(func(t *testing.T, step uint32, start int32, data []byte) {
		if step == 0 {
			return
		}
		at := int64(start) * int64(step)
		var rows []Row
		for len(data) >= 20 {
			word := func(i int) uint32 { return binary.LittleEndian.Uint32(data[i:]) }
			r := Row{At: at, Good: word(0) >> (data[16] % 32), Others: word(4) >> (data[16] / 8)}
			if data[17]%2 == 0 {
				r.Min, r.Max, r.Sum = FromDecimal(int64(word(8)), 2), FromDecimal(int64(word(12)), 2), FromDecimal(int64(word(8))*int64(data[18]), 2)
			} else {
				r.Min, r.Max = math.Float64frombits(binary.LittleEndian.Uint64(data[8:])), math.Float64frombits(binary.LittleEndian.Uint64(data))
				r.Sum = r.Min + r.Max
			}
			rows = append(rows, r)
			at += int64(step) * (1 + int64(data[19]/64))
			data = data[20:]
		}
		roundRows(t, int64(step), rows)
	})
}

// The FuzzDecode targets give the decoders any bytes: an error that leaves dst
// as it was, or a column that comes back when it is packed again.

func FuzzDecodeTimes(f *testing.F) {
	for _, m := range []Mode{Fast, Small} {
		for _, ts := range oddTimes() {
			f.Add(AppendTimes(nil, m, ts), len(ts))
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, n int) {
		n %= 1 << 12
		got, err := DecodeTimes([]int64{7}, b, n)
		front, bad := DecodeTimesFront([]int64{7}, b, n, n/2)
		if bad != nil {
			wantUntouched(t, len(front))
		}
		if err != nil {
			wantUntouched(t, len(got))
			return
		}
		if bad != nil || !slices.Equal(front[1:], got[1:][:n/2]) {
			t.Fatalf("the first %d of %d times: got %v, %v; want %v", n/2, n, front, bad, got)
		}
		if len(got) != n+1 {
			t.Fatalf("%d times, want %d", len(got)-1, n)
		}
		roundTimes(t, got[1:])
	})
}

func FuzzDecodeValues(f *testing.F) {
	for _, m := range []Mode{Fast, Small} {
		for _, vs := range oddValues() {
			f.Add(AppendValues(nil, m, vs), len(vs))
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, n int) {
		n %= 1 << 12
		got, err := DecodeValues([]float64{7}, b, n)
		front, bad := DecodeValuesFront([]float64{7}, b, n, n/2)
		if bad != nil {
			wantUntouched(t, len(front))
		}
		if err != nil {
			wantUntouched(t, len(got))
			return
		}
		if bad != nil || !sameValues(front[1:], got[1:][:n/2]) {
			t.Fatalf("the first %d of %d values: got %v, %v; want %v", n/2, n, front, bad, got)
		}
		if len(got) != n+1 {
			t.Fatalf("%d values, want %d", len(got)-1, n)
		}
		roundValues(t, got[1:])
	})
}

func FuzzDecodeMarks(f *testing.F) {
	for _, ms := range oddMarks() {
		f.Add(AppendMarks(nil, ms), len(ms))
	}
	f.Fuzz(func(t *testing.T, b []byte, n int) {
		n %= 1 << 12
		got, err := DecodeMarks([]uint8{7}, b, n)
		if err != nil {
			wantUntouched(t, len(got))
		} else if len(got) != n+1 {
			t.Fatalf("%d marks, want %d", len(got)-1, n)
		}
	})
}

func FuzzDecodeRows(f *testing.F) {
	for _, rs := range oddRows() {
		f.Add(AppendRows(nil, 600_000, rs), len(rs))
	}
	f.Fuzz(func(t *testing.T, b []byte, n int) {
		n %= 1 << 12
		got, err := DecodeRows([]Row{{}}, b, n)
		if err != nil {
			wantUntouched(t, len(got))
		} else if len(got) != n+1 {
			t.Fatalf("%d rows, want %d", len(got)-1, n)
		}
	})
}

func wantUntouched(t *testing.T, n int) {
	t.Helper()
	if n != 1 {
		t.Fatalf("an error, and %d more in dst", n-1)
	}
}
