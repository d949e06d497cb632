package column_test

import (
	"slices"
	"testing"

	"lentic/store/column"
)

var modes = []struct {
	name string
	mode column.Mode
}{{"fast", column.Fast}, {"small", column.Small}}

// mantissas are vs at the column's own exponent, in units of their greatest
// common divisor.
func mantissas(vs []float64) []int64 {
	top := uint8(0)
	for _, v := range vs {
		_, e, _ := column.Decimal(v)
		top = max(top, e)
	}
	xs := make([]int64, len(vs))
	g := int64(0)
	for i, v := range vs {
		m, e, _ := column.Decimal(v)
		for ; e < top; e++ {
			m *= 10
		}
		xs[i] = m
		for a := m - xs[0]; a != 0; {
			g, a = a, g%a
		}
	}
	if g != 0 {
		for i := range xs {
			xs[i] /= g
		}
	}
	return xs
}

func BenchmarkValues(b *testing.B) {
	for _, m := range modes {
		for _, s := range atrium() {
			b.Run(m.name+"/"+s.name, func(b *testing.B) {
				benchmark(b, len(s.values), residualEntropy(mantissas(s.values)),
					func(dst []byte) []byte { return column.AppendValues(dst, m.mode, s.values) })
			})
		}
	}
}

// BenchmarkDecodeValues reads one column after another: a processor comes to
// know the branches of one that it reads again and again.
func BenchmarkDecodeValues(b *testing.B) {
	for _, m := range modes {
		for _, s := range tenDays() {
			b.Run(m.name+"/"+s.name, func(b *testing.B) {
				var packed [][]byte
				for vs := range slices.Chunk(s.values, perColumn) {
					packed = append(packed, column.AppendValues(nil, m.mode, vs))
				}
				var dst []float64
				benchDecode(b, len(s.values), func() (err error) {
					for _, p := range packed {
						if dst, err = column.DecodeValues(dst[:0], p, perColumn); err != nil {
							return err
						}
					}
					return nil
				})
			})
		}
	}
}

type stamps struct {
	name            string
	jitter, missing float64
}

var allStamps = []stamps{{"whole", 0, 0}, {"jitter20", 20, 0}, {"jitter300", 300, 0}, {"gaps", 0, 0.01}, {"jitter20gaps", 20, 0.01}}

// noise is what the stamps are off their grid by.
func noise(ts []int64) []int64 {
	ns := make([]int64, len(ts))
	for i, t := range ts {
		ns[i] = (t+every/2)%every - every/2
	}
	return ns
}

func BenchmarkTimes(b *testing.B) {
	for _, m := range modes {
		for _, c := range allStamps {
			b.Run(m.name+"/"+c.name, func(b *testing.B) {
				ts := grid(perColumn, 7, c.jitter, c.missing)
				benchmark(b, len(ts), entropy0(noise(ts)),
					func(dst []byte) []byte { return column.AppendTimes(dst, m.mode, ts) })
			})
		}
	}
}

func BenchmarkDecodeTimes(b *testing.B) {
	for _, m := range modes {
		for _, c := range allStamps {
			b.Run(m.name+"/"+c.name, func(b *testing.B) {
				const columns = 20
				var packed [][]byte
				for seed := range uint64(columns) {
					packed = append(packed, column.AppendTimes(nil, m.mode, grid(perColumn, seed, c.jitter, c.missing)))
				}
				var dst []int64
				benchDecode(b, columns*perColumn, func() (err error) {
					for _, p := range packed {
						if dst, err = column.DecodeTimes(dst[:0], p, perColumn); err != nil {
							return err
						}
					}
					return nil
				})
			})
		}
	}
}

// BenchmarkBlock packs and reads what a block of a tank's twelve sensors holds:
// every sensor with stamps of its own, or one stamp for a message of all.
func BenchmarkBlock(b *testing.B) {
	for _, m := range modes {
		for _, c := range []struct {
			name   string
			shared bool
			jitter float64
		}{{"own-jittered", false, 20}, {"shared-jittered", true, 20}, {"shared-whole", true, 0}} {
			sensors := atrium()
			columns := [][]int64{grid(perColumn, 1, c.jitter, 0)}
			for i := 1; !c.shared && i < len(sensors); i++ {
				columns = append(columns, grid(perColumn, uint64(i+1), c.jitter, 0))
			}
			n := perColumn * len(sensors)
			floor := 0.0
			for _, ts := range columns {
				floor += entropy0(noise(ts))
			}
			for _, s := range sensors {
				floor += residualEntropy(mantissas(s.values))
			}
			b.Run(m.name+"/"+c.name, func(b *testing.B) {
				benchmark(b, n, floor, func(dst []byte) []byte {
					for _, ts := range columns {
						dst = column.AppendTimes(dst, m.mode, ts)
					}
					for _, s := range sensors {
						dst = column.AppendValues(dst, m.mode, s.values)
					}
					return dst
				})
			})
			b.Run(m.name+"/"+c.name+"-decode", func(b *testing.B) {
				var times, values [][]byte
				for _, ts := range columns {
					times = append(times, column.AppendTimes(nil, m.mode, ts))
				}
				for _, s := range sensors {
					values = append(values, column.AppendValues(nil, m.mode, s.values))
				}
				var ts []int64
				var vs []float64
				benchDecode(b, n, func() (err error) {
					for _, p := range times {
						if ts, err = column.DecodeTimes(ts[:0], p, perColumn); err != nil {
							return err
						}
					}
					for _, p := range values {
						if vs, err = column.DecodeValues(vs[:0], p, perColumn); err != nil {
							return err
						}
					}
					return nil
				})
			})
		}
	}
}

// BenchmarkRows packs ten days of rows of one length for each sensor, and tells
// the bytes for a reading at 10 s.
func BenchmarkRows(b *testing.B) {
	days := tenDays()
	for _, c := range []struct {
		name     string
		per, max int // readings a row, rows a column
	}{{"1min", 6, 720}, {"10min", 60, 1440}, {"1h", 360, 1440}, {"1day", 8640, 1440}} {
		var columns [][]column.Row
		rows := 0
		for _, s := range days {
			rs := rollUp(s.values, c.per)
			rows += len(rs)
			columns = slices.AppendSeq(columns, slices.Chunk(rs, c.max))
		}
		var packed [][]byte
		size := 0
		for _, rs := range columns {
			packed = append(packed, column.AppendRows(nil, int64(c.per)*every, rs))
			size += len(packed[len(packed)-1])
		}
		b.Run(c.name, func(b *testing.B) {
			var dst []byte
			for b.Loop() {
				for _, rs := range columns {
					dst = column.AppendRows(dst[:0], int64(c.per)*every, rs)
				}
			}
			b.ReportMetric(float64(size)/float64(len(days)*len(days[0].values)), "B/reading")
			b.ReportMetric(float64(size)/float64(rows), "B/row")
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(rows), "ns/row")
		})
		b.Run(c.name+"-decode", func(b *testing.B) {
			var dst []column.Row
			for b.Loop() {
				for i, p := range packed {
					var err error
					if dst, err = column.DecodeRows(dst[:0], p, len(columns[i])); err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(rows), "ns/row")
		})
	}
}

func benchmark(b *testing.B, n int, floor float64, pack func([]byte) []byte) {
	dst := pack(nil)
	b.ReportAllocs()
	for b.Loop() {
		dst = pack(dst[:0])
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/reading")
	b.ReportMetric(float64(len(dst))/float64(n), "B/reading")
	if floor > 0 {
		b.ReportMetric(float64(len(dst))/floor, "x-entropy")
	}
	b.ReportMetric(float64(len(dst)), "B")
}

func benchDecode(b *testing.B, n int, decode func() error) {
	b.ReportAllocs()
	for b.Loop() {
		if err := decode(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/reading")
}
