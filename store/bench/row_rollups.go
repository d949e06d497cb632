package main

import (
	"fmt"
	"path/filepath"
	"time"

	"lentic/store"
	"lentic/store/bench/tanks"
	"lentic/store/record"
)

// What the size of sums is taken from: a month of some tanks that has been
// forgotten but for its sums.
const rollupTanks, rollupDays = 10, 30

func (b *bench) rollups() error {
	return b.scratch(func(dir string) error {
		path := filepath.Join(dir, "lentic.db")
		n, err := b.forgottenMonth(path)
		if err != nil {
			return err
		}
		c, err := inspect(path)
		if err != nil {
			return err
		}
		per := func(bytes int64) amount { return each("", float64(bytes)/float64(n)) }
		// A row of 32 bytes for each minute, ten minutes, hour and day.
		plain := 32 * (1.0/6 + 1.0/60 + 1.0/360 + 1.0/8640)
		b.table.is("with 1 min", per(c["rollups"]), each("plain rows of 32 B", plain), noTarget)
		b.table.stays("with 1 min", per(c["rollups"]), atMost(0.17).in("B"))
		b.table.stays("without", per(c["rollups"]-c["rollups/1"]), atMost(0.03).in("B"))
		d := b.folding()
		b.table.stays("folding all four", amount{"", d, fmt.Sprintf("%.1f ns", d)}, atMost(3).in("ns/reading"))
		return nil
	})
}

func (b *bench) forgottenMonth(path string) (n int64, err error) {
	l, err := openLentic(path, rollupTanks, store.Options{Keep: time.Hour, KeepMinutes: -1})
	if err != nil {
		return 0, err
	}
	src := tanks.NewSource(rollupTanks, tanks.Own, b.end.UnixMilli()-rollupDays*86400_000, b.seed)
	var rs []tanks.Reading
	for range rollupDays * 8640 / 60 {
		rs = rs[:0]
		for range 60 {
			rs = src.Next(rs)
		}
		if err := l.Commit(rs); err != nil {
			return 0, err
		}
		n += int64(len(rs))
		if err := l.tidy(); err != nil {
			return 0, err
		}
	}
	l.now = l.now.Add(48 * time.Hour)
	err = l.seal()
	if err2 := l.Close(); err == nil {
		err = err2
	}
	return n, err
}

// folding is how many ns a reading takes to be summed up at all steps.
func (b *bench) folding() float64 {
	times, values := make([][]int64, tanks.Sensors), make([][]float64, tanks.Sensors)
	src := tanks.NewSource(1, tanks.Own, b.begin(), b.seed)
	var rs []tanks.Reading
	const turns = 4320
	for range turns {
		rs = src.Next(rs[:0])
		for i, r := range rs {
			times[i], values[i] = append(times[i], r.At), append(values[i], r.Value)
		}
	}
	var all []float64
	for range 21 {
		start := time.Now()
		for i := range times {
			rows := record.Fold(nil, 60_000, times[i], values[i], nil)
			for _, step := range []int64{600_000, 3600_000, 86400_000} {
				rows = record.FoldRows(nil, step, rows)
			}
		}
		all = append(all, float64(time.Since(start).Nanoseconds())/(turns*tanks.Sensors))
	}
	return median(all)
}
