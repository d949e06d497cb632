package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"lentic/store"
	"lentic/store/bench/tanks"
)

// yearTurns is how many turns of all sensors one commit of the year has: a
// commit a turn would take an hour of nothing but waiting for the disk.
const yearTurns = 10

// yearFile is a year as it would have come in: appended, every reading with a
// stamp of its own, and housekeeping done whenever it was due.
type yearFile struct {
	dir      string
	path     string
	readings int64
	size     int64    // at its end, with what is still in the log
	most     uint64   // free pages at any time
	mostDay  int      // the day they were that many, from 0
	free     uint64   // free pages at its end
	contents contents // at its end
	took     time.Duration
	sealed   bool
}

// yearNeed is that of writing it: 1.3 bytes a reading and, on a common machine
// of two cores, 400 ns.
func (b *bench) yearNeed() need {
	return need{b.readings() * 13 / 10, time.Duration(b.readings()) * 400}
}

// year is the written year, written once a run.
func (b *bench) year() (*yearFile, error) {
	y := b.written
	if y != nil && y.path != "" {
		return y, nil
	}
	if err := os.Mkdir(filepath.Dir(b.yearPath()), 0o700); err != nil {
		return nil, err
	}
	if y != nil {
		return y, b.copyYear(y)
	}
	y = &yearFile{dir: filepath.Dir(b.yearPath()), path: b.yearPath()}
	start := time.Now()
	if err := b.writeYear(y); err != nil {
		return nil, fmt.Errorf("write the year: %w", err)
	}
	y.took = time.Since(start)
	y.size = fileSize(y.path)
	var err error
	if y.contents, err = inspect(y.path); err != nil {
		return nil, err
	}
	b.written = y
	return y, b.keepYear(y)
}

func (b *bench) writeYear(y *yearFile) error {
	return b.live(y.path, tankCount, store.Options{}, func(day int, readings int64, free uint64) {
		y.readings, y.free = readings, free
		if free > y.most {
			y.most, y.mostDay = free, day
		}
	})
}

// live writes the year of so many tanks into a new file as it would have come
// in, and does housekeeping whenever it is due. After each step of that, look is
// told the day, from 0, how many readings there are, and the free pages.
func (b *bench) live(path string, tankCount int, o store.Options, look func(day int, readings int64, free uint64)) (err error) {
	l, err := openLentic(path, tankCount, o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	src := tanks.NewSource(tankCount, tanks.Own, b.begin(), b.seed)
	var rs []tanks.Reading
	for n := int64(0); src.Turn() < b.end.UnixMilli(); {
		if err := b.ctx.Err(); err != nil {
			return err
		}
		rs = rs[:0]
		for range yearTurns {
			rs = src.Next(rs)
		}
		if err := l.Commit(rs); err != nil {
			return err
		}
		n += int64(len(rs))
		day := int((src.Turn() - b.begin()) / (24 * time.Hour).Milliseconds())
		for more := true; more; {
			if more, err = l.Tidy(); err != nil {
				return err
			}
			free, err := freePages(f)
			if err != nil {
				return err
			}
			look(day, n, free)
		}
	}
	return nil
}

// open opens the year for reading and for what comes after it.
func (b *bench) openYear() (*lentic, error) {
	y, err := b.year()
	if err != nil {
		return nil, err
	}
	l, err := openLentic(y.path, tankCount, store.Options{})
	if err != nil {
		return nil, err
	}
	l.now = b.end
	return l, nil
}

// sealYear puts what is in the log into blocks, and gives the file's path.
func (b *bench) sealYear() (string, error) {
	y, err := b.year()
	if err != nil || y.sealed {
		return b.yearPath(), err
	}
	l, err := b.openYear()
	if err != nil {
		return "", err
	}
	y.sealed = true
	return y.path, errors.Join(l.seal(), l.Close())
}

func (b *bench) yearPath() string { return filepath.Join(b.dir, "year", "lentic.db") }
