package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
	"lentic/store"
	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// The history that is imported: three days of ten tanks.
const importTanks, importTurns = 10, 25_000

// importer takes one history; finish makes it durable.
type importer struct {
	add    func(aquarium.Sample) error
	finish func() error
}

// imports reads the same CSV with the same parser into each, each in a process
// of its own; parsing alone throws every row away.
func (b *bench) imports() error {
	return b.scratch(func(dir string) error {
		path := filepath.Join(dir, "history.csv")
		n, err := b.writeCSV(path)
		if err != nil {
			return err
		}
		names := []string{"lentic", "parse", "tsdb", "sqlite"}
		speed := map[string]amount{}
		for _, cores := range []int{1, 2} {
			took := map[string][]time.Duration{}
			for range 3 {
				for _, name := range names {
					d, err := b.importOnce(name, path, dir, cores)
					if err != nil {
						return fmt.Errorf("%s: %w", name, err)
					}
					took[name] = append(took[name], d)
				}
			}
			for _, name := range names {
				speed[fmt.Sprint(name, cores)] = rate(importTitles[name], n, median(took[name]))
			}
		}
		b.table.is("one core", speed["lentic1"], speed["parse1"], atLeast(0.6))
		b.table.is("two cores", speed["lentic2"], speed["parse2"], atLeast(0.9))
		b.table.is("one core", speed["lentic1"], speed["tsdb1"], atLeast(2.5))
		b.table.is("one core", speed["lentic1"], speed["sqlite1"], atLeast(38))
		return nil
	})
}

var importTitles = map[string]string{"parse": "parsing alone", "tsdb": "tsdb without fsync", "sqlite": "SQLite FULL, 50 000 rows a transaction"}

func (b *bench) writeCSV(path string) (n int64, err error) {
	f, err := os.Create(path)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := bufio.NewWriterSize(f, 1<<20)
	w.WriteString("time,site,tank,sensor,value\n")
	src := tanks.NewSource(importTanks, tanks.Message, b.begin(), b.seed)
	var rs []tanks.Reading
	var line []byte
	for range importTurns {
		rs = src.Next(rs[:0])
		for _, r := range rs {
			k := tanks.Key(r.Series)
			line = time.UnixMilli(r.At).UTC().AppendFormat(line[:0], "2006-01-02T15:04:05.000Z")
			line = fmt.Appendf(line, ",%s,%s,%s,", k.Site, k.Tank, k.Sensor)
			line = strconv.AppendFloat(line, r.Value, 'f', -1, 64)
			w.Write(append(line, '\n'))
		}
		n += int64(len(rs))
	}
	return n, w.Flush()
}

func (b *bench) importOnce(name, csv, dir string, cores int) (time.Duration, error) {
	into, err := os.MkdirTemp(dir, name)
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(into)
	c, err := b.startChild("import", name, csv, into, fmt.Sprint(cores))
	if err != nil {
		return 0, err
	}
	defer c.stop()
	if err := c.turn(true); err != nil {
		return 0, err
	}
	return c.took[0], nil
}

// importHistory is the process of one import: name, CSV, folder, cores.
func importHistory(args []string) error {
	if len(args) != 4 {
		return fmt.Errorf("import: %d arguments", len(args))
	}
	cores, err := strconv.Atoi(args[3])
	if err != nil {
		return err
	}
	runtime.GOMAXPROCS(cores)
	bufio.NewScanner(os.Stdin).Scan()
	f, err := os.Open(args[1])
	if err != nil {
		return err
	}
	defer f.Close()
	start := time.Now()
	if err := importInto(args[0], args[2], f); err != nil {
		return err
	}
	return json.NewEncoder(os.Stdout).Encode(lot{Took: []time.Duration{time.Since(start)}})
}

func importInto(name, dir string, f *os.File) error {
	read := func(add func(aquarium.Sample) error) error {
		return wire.ReadCSV(bufio.NewReaderSize(f, 1<<20),
			func(_ int, s aquarium.Sample) error { return add(s) },
			func(line int, err error) error { return fmt.Errorf("line %d: %w", line, err) })
	}
	switch name {
	case "parse":
		return read(func(aquarium.Sample) error { return nil })
	case "lentic":
		return importLentic(filepath.Join(dir, "lentic.db"), read)
	case "tsdb":
		p, err := peer.NewTSDB(dir, false)
		if err != nil {
			return err
		}
		return errors.Join(importPeer(read, p.Load, 600), p.Close())
	case "sqlite":
		p, err := peer.NewSQLite(filepath.Join(dir, "sqlite"), true)
		if err != nil {
			return err
		}
		return errors.Join(importPeer(read, p.Load, 50_000), p.Close())
	}
	return fmt.Errorf("no such import: %q", name)
}

// importRows is how many rows lentic is given at a time, as its own command
// does.
const importRows = 1024

// importLentic reads in one goroutine and stores in another, as the command
// does.
func importLentic(path string, read func(func(aquarium.Sample) error) error) error {
	l, err := openLentic(path, importTanks, store.Options{})
	if err != nil {
		return err
	}
	full, empty, done := make(chan []aquarium.Reading, 4), make(chan []aquarium.Reading, 6), make(chan error, 1)
	go func() { done <- l.readInto(full, empty, read) }()
	err = l.Bulk(func(add func(aquarium.Batch) error) error {
		for rs := range full {
			if err := add(aquarium.Batch{Readings: rs}); err != nil {
				return err
			}
			empty <- rs[:0]
		}
		return <-done
	})
	return errors.Join(err, l.Close())
}

// readInto reads all rows; full is closed at the end.
func (l *lentic) readInto(full chan<- []aquarium.Reading, empty <-chan []aquarium.Reading, read func(func(aquarium.Sample) error) error) error {
	defer close(full)
	find := newFinder(l.keys)
	rs := make([]aquarium.Reading, 0, importRows)
	flush := func() {
		full <- rs
		select {
		case rs = <-empty:
		default:
			rs = make([]aquarium.Reading, 0, importRows)
		}
	}
	err := read(func(s aquarium.Sample) error {
		i := find.series(&s.Sensor)
		rs = append(rs, aquarium.Reading{Sensor: l.keys[i], At: s.At, Value: s.Value, Unit: l.units[i]})
		if len(rs) == importRows {
			flush()
		}
		return nil
	})
	if err == nil {
		flush()
	}
	return err
}

func importPeer(read func(func(aquarium.Sample) error) error, load func([]tanks.Reading) error, lot int) error {
	var keys []aquarium.SensorKey
	for i := range importTanks * tanks.Sensors {
		keys = append(keys, tanks.Key(i))
	}
	find := newFinder(keys)
	var rs []tanks.Reading
	err := read(func(s aquarium.Sample) error {
		rs = append(rs, tanks.Reading{Series: find.series(&s.Sensor), At: int64(s.At), Value: s.Value})
		if len(rs) < lot {
			return nil
		}
		err := load(rs)
		rs = rs[:0]
		return err
	})
	if err != nil {
		return err
	}
	return load(rs)
}

// finder tells which sensor a row is of, for lentic and its peers alike. It
// looks first for the one after the last: a table of all would cost more than
// some of those that are measured.
type finder struct {
	keys   []aquarium.SensorKey
	number map[aquarium.SensorKey]int
	next   int
}

func newFinder(keys []aquarium.SensorKey) *finder {
	f := &finder{keys: keys, number: map[aquarium.SensorKey]int{}}
	for i, k := range keys {
		f.number[k] = i
	}
	return f
}

func (f *finder) series(k *aquarium.SensorKey) int {
	i := f.next
	if have := &f.keys[i]; have.Sensor != k.Sensor || have.Tank != k.Tank || have.Site != k.Site {
		i = f.number[*k]
	}
	f.next = (i + 1) % len(f.keys)
	return i
}
