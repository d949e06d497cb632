package store

import (
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// Check is Inspect, and what it found.
func (s *Store) Check() error {
	f, err := s.Inspect(context.Background(), nil)
	return errors.Join(f.Err(), err)
}

// Inspect reads every value while the store is at work, in short read
// transactions, and tells what is damaged. It does not look at the pages
// themselves: CheckFile does, once nobody writes. progress, where it is not
// nil, is told how many bytes of how many have been read. The error is ctx's,
// or the store's.
func (s *Store) Inspect(ctx context.Context, progress func(done, total int64)) (Findings, error) {
	c := newChecker(s.path)
	c.series = func(number uint32) (aquarium.SensorKey, bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		if x := s.catalogue.byNumber[number]; x != nil {
			return x.key, true
		}
		return aquarium.SensorKey{}, false
	}
	c.tank = s.tankOf
	if s.spoilt != nil {
		c.add(s.spoilt)
	}
	sources, err := s.sources()
	for _, at := range sources {
		if err == nil {
			err = s.inspectSource(ctx, c, at, progress)
		}
	}
	if err == nil {
		err = s.read(func(tx *bbolt.Tx) error {
			for _, name := range buckets {
				c.sequence(string(name), tx.Bucket(name).Sequence())
			}
			return nil
		})
	}
	if errors.Is(err, ErrDamaged) { // where no value can be named
		c.add(asDamage(s.path, err))
		err = nil
	}
	return c.Findings, err
}

// inspectSource checks a bucket. Pages of it that cannot be read end that.
func (s *Store) inspectSource(ctx context.Context, c *checker, at source, progress func(done, total int64)) error {
	var last []byte
	err := s.walk(ctx, at, nil, func(k, v []byte) error {
		last = append(last[:0], k...)
		return c.entry(at, k, v, offsetIn(s.db, v))
	}, func(more bool) error {
		if progress != nil {
			size := s.Size()
			progress(min(c.Bytes, size), size)
		}
		if !more {
			return nil
		}
		return sleep(ctx, tidyPause) // intake goes first
	})
	if errors.Is(err, ErrDamaged) {
		d := asDamage(s.path, err)
		d.Bucket, d.Key = at.String(), slices.Clone(last)
		d.Err = fmt.Errorf("what follows cannot be read: %w: stop the daemon and check the file as a whole", d.Err)
		c.add(d)
		return nil
	}
	return err
}

func asDamage(path string, err error) *Damage {
	var d *Damage
	if errors.As(err, &d) {
		c := *d
		return &c
	}
	return &Damage{File: path, Err: err}
}

func sleep(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}

// tankOf is the tank whose readings the group's blocks have.
func (s *Store) tankOf(number uint32) aquarium.TankKey {
	s.mu.RLock()
	defer s.mu.RUnlock()
	for k, g := range s.catalogue.groups {
		if g.number == number {
			return aquarium.TankKey{Site: k.site, Tank: k.tank}
		}
	}
	return aquarium.TankKey{}
}

// sources lists the buckets, the log before the blocks that it ends in, and the
// shelves of the ledger.
func (s *Store) sources() ([]source, error) {
	var all []source
	for _, b := range buckets {
		if string(b) != string(ledgerBucket) {
			all = append(all, source{bucket: string(b)})
		}
	}
	err := s.read(func(tx *bbolt.Tx) error {
		return tx.Bucket(ledgerBucket).ForEachBucket(func(k []byte) error {
			all = append(all, source{string(ledgerBucket), string(k)})
			return nil
		})
	})
	return all, err
}

// CheckFile reads a database that nobody writes to, page by page and value by
// value, whether it can be opened or not, and tells what is damaged. It reads
// no page twice, so it ends whatever the file holds. Every byte is read from
// the disk, not from memory.
//
// An error says why nothing could be told at all: ErrLocked, ErrNotOurs,
// ErrNewerFormat, an ErrDamaged where neither meta page is whole; or it is
// ctx's.
func CheckFile(ctx context.Context, path string, progress func(done, total int64)) (Findings, error) {
	c := newChecker(path)
	err := checkFile(ctx, path, c, progress)
	return c.Findings, err
}

func checkFile(ctx context.Context, path string, c *checker, progress func(done, total int64)) error {
	if err := sniff(path); err != nil {
		return err
	}
	db, err := openBolt(path, true, openSettled) // for its lock; the pages are read apart from it
	if err != nil {
		return err
	}
	err = guard(path, nil, func() error { return c.file(ctx, progress) })
	return errors.Join(err, guard(path, nil, db.Close))
}

// file goes through the pages twice: for the names of the series, then for
// everything.
func (c *checker) file(ctx context.Context, progress func(done, total int64)) error {
	f, err := os.Open(c.path)
	if err != nil {
		return fmt.Errorf("check database: %w", err)
	}
	defer f.Close()
	m, err := readMetaPages(f)
	if err != nil {
		return &Damage{File: c.path, Err: err}
	}
	if err := c.preamble(f, m); err != nil {
		return err
	}
	if err := spoiltMeta(f, m); err != nil {
		c.add(&Damage{File: c.path, Err: err})
	}
	p, err := newPages(f, m, whole)
	if err != nil {
		return &Damage{File: c.path, Err: err}
	}
	total := int64(m.high) * p.size
	looked := time.Now()
	entry := func(at source, k, v []byte, offset int64) error {
		if time.Since(looked) > stepTime {
			looked = time.Now()
			if progress != nil {
				progress(min(c.Bytes, total), total)
			}
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		return c.entry(at, k, v, offset)
	}
	c.sequences = map[source]uint64{}
	w := fileWalk{c: c, p: p, entry: entry}
	if err := w.run(m); err != nil {
		return err
	}
	if progress != nil {
		progress(total, total)
	}
	return nil
}

// preamble reads the names of the series and the stamp.
func (c *checker) preamble(f *os.File, m metaPage) error {
	names := map[uint32]named{}
	stamp := map[string]string{}
	found, gaps := false, 0
	entry := func(k, v []byte) {
		if x, group, err := openSeries(k, v); err == nil {
			names[x.number] = named{x.key, group}
		} else if content, err := record.Open(k, v); err == nil && len(k) > 4 {
			stamp[string(k)] = string(content)
		}
	}
	p, err := newPages(f, m, whole)
	if err != nil {
		return &Damage{File: c.path, Err: err}
	}
	p.lost = func(gap) { gaps++ } // what it is, the second way tells
	p.only = func(bucket string) bool { return bucket == string(metaBucket) || bucket == string(seriesBucket) }
	p.found = func(at source, e element, _ int64) error {
		found = found || at.bucket == string(metaBucket)
		if !e.bucket {
			entry(e.key, e.value)
		}
		return nil
	}
	p.bucket(source{}, m.root)
	if gaps > 0 { // the names may hang on what cannot be read
		if p, err = newPages(f, m, whole); err != nil {
			return &Damage{File: c.path, Err: err}
		}
		p.lost = func(gap) {}
		p.bucket(source{}, m.root)
		// Without a list of free pages there are none to be found.
		_ = p.orphans(m.freelist, func(e element, _ int64) error {
			if len(e.key) == 4 || string(e.key) == string(formatKey) || string(e.key) == string(writerKey) {
				entry(e.key, e.value)
			}
			return nil
		})
	}
	c.names(names)
	format, ok := stamp[string(formatKey)]
	switch {
	case ok:
		return checkFormat(c.path, format, stamp[string(writerKey)])
	case !found && gaps == 0:
		return errUnstamped(c.path)
	}
	return nil // of this format, as far as anybody can tell
}

// fileWalk is one way through all pages of a file.
type fileWalk struct {
	c     *checker
	p     *pages
	entry func(at source, k, v []byte, offset int64) error
	gaps  []gap
}

func (w *fileWalk) run(m metaPage) error {
	w.p.lost = func(g gap) {
		g.lo, g.hi = slices.Clone(g.lo), slices.Clone(g.hi)
		w.gaps = append(w.gaps, g)
		w.c.gap(g, w.p.size)
	}
	w.p.found = func(at source, e element, offset int64) error {
		if e.bucket {
			w.c.sequences[at] = sequenceOf(e.value)
			return nil
		}
		return w.entry(at, e.key, e.value, offset)
	}
	listed := m.freelist != noFreelist
	if listed {
		if _, err := w.p.read(m.freelist, freelistPage); err != nil {
			w.c.add(&Damage{File: w.c.path, Offset: int64(m.freelist) * w.p.size, Err: fmt.Errorf("list of free pages: %w", err)})
			listed = false
		}
	}
	if w.p.bucket(source{}, m.root); w.p.stopped != nil {
		return w.p.stopped
	}
	if len(w.gaps) > 0 {
		if err := w.orphans(m); err != nil {
			return err
		}
	} else if listed {
		if err := cmp.Or(w.p.freelist(m.freelist), w.p.reached(m.freelist)); err != nil {
			w.c.add(&Damage{File: w.c.path, Offset: int64(m.freelist) * w.p.size, Err: err})
		}
	}
	for _, name := range buckets {
		next, ok := w.c.sequences[source{bucket: string(name)}]
		if !ok {
			w.c.add(&Damage{File: w.c.path, Bucket: string(name), Err: errors.New("the bucket is not there")})
			continue
		}
		w.c.sequence(string(name), next)
	}
	return nil
}

// orphans takes what hung on pages that cannot be read: an entry belongs to a
// gap that has its key, in a bucket that has such values.
func (w *fileWalk) orphans(m metaPage) error {
	var stopped error
	err := w.p.orphans(m.freelist, func(e element, offset int64) error {
		for _, g := range w.gaps {
			if g.lo != nil && string(e.key) < string(g.lo) || g.hi != nil && string(e.key) >= string(g.hi) {
				continue
			}
			for _, at := range w.within(g) {
				if w.c.belongs(at, e.key, e.value) {
					stopped = w.entry(at, e.key, e.value, offset)
					return stopped
				}
			}
		}
		return nil
	})
	if err != nil && stopped == nil {
		w.c.add(&Damage{File: w.c.path, Err: fmt.Errorf("what hung on damaged pages cannot be found: %w", err)})
	}
	return stopped
}

// belongs reports whether a value is one that a bucket has.
func (c *checker) belongs(at source, k, v []byte) bool {
	if at.bucket == string(blocksBucket) {
		_, err := record.OpenBlock(k, v)
		return err == nil
	}
	trial := *c
	trial.Findings, trial.last = Findings{}, map[string]uint64{}
	return trial.value(at, k, v, 0) == nil
}

// within lists the buckets that lay in a gap.
func (w *fileWalk) within(g gap) []source {
	if g.at.bucket != "" {
		return []source{g.at}
	}
	var all []source
	for _, name := range buckets {
		at := source{bucket: string(name)}
		if _, ok := w.c.sequences[at]; !ok && string(name) != string(ledgerBucket) {
			all = append(all, at)
		}
	}
	return all
}

// gap notes keys that cannot be read.
func (c *checker) gap(g gap, pageSize int64) {
	d := &Damage{File: c.path, Bucket: g.at.String(), Key: g.lo, Until: g.hi, Offset: int64(g.page) * pageSize, Err: g.err}
	if g.at.bucket == string(blocksBucket) {
		if start, _, err := record.SplitBlockKey(g.lo); err == nil {
			d.From = start
		}
		if start, _, err := record.SplitBlockKey(g.hi); err == nil {
			d.To = start.Add(stretch)
		}
	}
	c.add(d)
}

func sequenceOf(header []byte) uint64 {
	return binary.NativeEndian.Uint64(header[8:])
}
