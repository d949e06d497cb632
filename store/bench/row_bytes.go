package main

import (
	"fmt"
	"path/filepath"
	"time"

	"lentic/store"
	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// What the limits and the peers' bytes are taken from: longer or more brought
// no other number.
const (
	limitTanks, limitDays = 10, 4
	peerTanks, peerDays   = 2, 31
)

// bytesOfYear: the year as it was written, with its log and sums.
func (b *bench) bytesOfYear() error {
	y, err := b.year()
	if err != nil {
		return err
	}
	mine := each("", float64(y.size)/float64(y.readings))
	return b.bytesBeside(tanks.Own, mine, bytesTargets{whole: 1.15, order0: 1.06, tsdb: 0.29})
}

// bytesLoaded: a year with other stamps, loaded past the log.
func bytesLoaded(stamps tanks.Stamps, t bytesTargets) func(*bench) error {
	return func(b *bench) error {
		return b.scratch(func(dir string) error {
			path := filepath.Join(dir, "lentic.db")
			n, err := b.loadYear(path, stamps)
			if err != nil {
				return err
			}
			return b.bytesBeside(stamps, each("", float64(fileSize(path))/float64(n)), t)
		})
	}
}

func (b *bench) loadYear(path string, stamps tanks.Stamps) (n int64, err error) {
	l, err := openLentic(path, tankCount, store.Options{})
	if err != nil {
		return 0, err
	}
	src := tanks.NewSource(tankCount, stamps, b.begin(), b.seed)
	var rs []tanks.Reading
	err = l.load(func(add func([]tanks.Reading) error) error {
		for src.Turn() < b.end.UnixMilli() {
			if err := b.ctx.Err(); err != nil {
				return err
			}
			rs = src.Next(rs[:0])
			n += int64(len(rs))
			if err := add(rs); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		err = l.seal()
	}
	if err2 := l.Close(); err == nil {
		err = err2
	}
	return n, err
}

// bytesTargets: 0 is none.
type bytesTargets struct{ whole, order0, noise, tsdb float64 }

func (b *bench) bytesBeside(stamps tanks.Stamps, mine amount, t bytesTargets) error {
	target := func(v float64) check {
		if v == 0 {
			return noTarget
		}
		return atMost(v).unless(b.short())
	}
	b.table.stays("", mine, target(t.whole).in("B"))
	l := b.limits(stamps, limitTanks, limitDays)
	b.table.is("", mine, each("order-0 entropy", l.order0), target(t.order0))
	b.table.is("", mine, each("noise entropy", l.noise), target(t.noise))
	return b.scratch(func(dir string) error {
		series, lite, err := b.peerBytes(dir, stamps)
		if err != nil {
			return err
		}
		from := fmt.Sprintf(" (%d days of %d sensors)", peerDays, peerTanks*tanks.Sensors)
		b.table.is("", mine, each("tsdb"+from, series), target(t.tsdb))
		b.table.is("", mine, each("SQLite"+from, lite), noTarget)
		return nil
	})
}

// peerBytes is what a reading takes in the peers' files: of tsdb its blocks
// alone, of SQLite a table written in its own order, which packs it best.
func (b *bench) peerBytes(dir string, stamps tanks.Stamps) (series, lite float64, err error) {
	t, err := peer.NewTSDB(filepath.Join(dir, "tsdb"), false)
	if err != nil {
		return 0, 0, err
	}
	defer t.Close()
	s, err := peer.NewSQLite(filepath.Join(dir, "sqlite"), false)
	if err != nil {
		return 0, 0, err
	}
	defer s.Close()
	n, err := b.fillPeers(t, s, peerTanks, peerDays, stamps)
	if err != nil {
		return 0, 0, err
	}
	return float64(t.BlockBytes()) / float64(n), float64(fileSize(filepath.Join(dir, "sqlite"))) / float64(n), nil
}

// fillPeers gives both the last days of the year's first tanks: tsdb in order
// of time, as it must be, SQLite sensor by sensor.
func (b *bench) fillPeers(t *peer.TSDB, s *peer.SQLite, tankCount, days int, stamps tanks.Stamps) (n int64, err error) {
	begin := b.begin()
	turns := days * 8640
	src := tanks.NewSource(tankCount, stamps, begin, b.seed)
	var rs []tanks.Reading
	for turn := range turns {
		if rs = src.Next(rs); turn%360 != 359 && turn != turns-1 {
			continue
		}
		if err := b.ctx.Err(); err != nil {
			return 0, err
		}
		if err := t.Load(rs); err != nil {
			return 0, err
		}
		n += int64(len(rs))
		rs = rs[:0]
	}
	if err := t.Compact(); err != nil {
		return 0, err
	}
	var some, one []tanks.Reading
	for series := range tankCount * tanks.Sensors {
		src := tanks.NewSource(tankCount, stamps, begin, b.seed)
		for turn := range turns {
			some = src.Next(some[:0])
			one = append(one, some[series])
			if turn%8640 != 8639 && turn != turns-1 {
				continue
			}
			if err := b.ctx.Err(); err != nil {
				return 0, err
			}
			if err := s.Load(one); err != nil {
				return 0, err
			}
			one = one[:0]
		}
	}
	return n, s.Shrink()
}

// growth: how much of the file is not keys and values.
func (b *bench) growth() error {
	y, err := b.year()
	if err != nil {
		return err
	}
	b.table.is("file / keys and values in it", size("", y.size), size("contents", y.contents.all()), atMost(1.05).unless(b.short()))
	b.table.stays("free pages at any time", amount{"", float64(y.most), fmt.Sprintf("%d on day %d (%d at the end)", y.most, y.mostDay, y.free)}, atMost(99).in("pages").unless(b.short()))
	return nil
}

// In a steady state as much is forgotten as comes in.
const (
	steadyTanks   = 10
	steadyKeep    = 60 * 24 * time.Hour
	steadyMinutes = 120 * 24 * time.Hour
)

// steady: what a file grows by once readings are forgotten as fast as they come,
// beside the sums it has been asked to keep for ever.
func (b *bench) steady() error {
	return b.scratch(func(dir string) error {
		path := filepath.Join(dir, "lentic.db")
		var most uint64
		var mostDay int
		settled := int64(0) // the file when the first sums by the minute were forgotten
		err := b.live(path, steadyTanks, store.Options{Keep: steadyKeep, KeepMinutes: steadyMinutes}, func(day int, _ int64, free uint64) {
			if free > most {
				most, mostDay = free, day
			}
			if settled == 0 && day > int(steadyMinutes.Hours()/24)+2 {
				settled = fileSize(path)
			}
		})
		if err != nil {
			return err
		}
		if settled == 0 {
			return fmt.Errorf("%d days are too few to forget in: want more than %.0f", b.days(), steadyMinutes.Hours()/24+2)
		}
		held, err := inspect(path)
		if err != nil {
			return err
		}
		end := fileSize(path)
		b.table.is("file / keys and values in it", size("", end), size("contents", held.all()), atMost(1.05).unless(b.short()))
		b.table.is("file at the end / when first in the steady state", size("", end), size("then", settled), noTarget)
		b.table.stays("free pages at any time", amount{"", float64(most), fmt.Sprintf("%d on day %d", most, mostDay)}, noTarget.in("pages"))
		return nil
	})
}

// steadyNeed is that of its tanks' year, of which little remains.
func steadyNeed(b *bench) need {
	return need{200 << 20, time.Duration(b.readings()/tankCount*steadyTanks) * 700}
}
