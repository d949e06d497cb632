package store

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// A file of format 1 becomes one of the present format in a file beside it,
// which takes its place once everything in it has been read back and compared.
// Until then the old file is not touched. A migration that was interrupted goes
// on after the last tank it finished.

// migratedKey says in meta of the new file which groups are done.
var migratedKey = []byte("migrated")

// migrationStep bounds how much of the odd things one transaction copies.
const migrationStep = 4 << 20

// migration is one file on its way.
type migration struct {
	path string
	opt  Options
	old  *bbolt.DB
	to   *Store
}

func migrate(path string, o Options) (err error) {
	o.Log.Info("the database is brought to a new format; this is done once", "file", path, "format", record.Format)
	m := &migration{path: path, opt: o}
	if m.old, err = openBolt(path, false, nil); err != nil { // for writing, so that nobody else does
		return err
	}
	defer func() { err = errors.Join(err, guard(path, nil, m.old.Close)) }()
	fresh := path + ".migrating"
	to := o
	to.Reserve, to.Keep, to.KeepMinutes = -1, -1, -1
	if m.to, err = Open(fresh, to); err != nil {
		return fmt.Errorf("bring %s to format %d: %w: delete %s and start again", path, record.Format, err, fresh)
	}
	err = errors.Join(guard(path, nil, m.run), m.to.Close())
	if err != nil {
		return fmt.Errorf("bring %s to format %d: %w; the old file is as it was, and starting again goes on from here", path, record.Format, err)
	}
	return install(fresh, path, true)
}

func (m *migration) run() error {
	series, err := m.series()
	if err != nil {
		return err
	}
	if err := m.odd(); err != nil {
		return err
	}
	groups := map[groupKey][]*series1{}
	for _, x := range series {
		groups[groupOf(x.sensor)] = append(groups[groupOf(x.sensor)], x)
	}
	done, err := m.done()
	if err != nil {
		return err
	}
	for _, g := range slices.SortedFunc(maps.Keys(groups), func(a, b groupKey) int { return cmp.Or(cmp.Compare(a.site, b.site), cmp.Compare(a.tank, b.tank)) }) {
		name := string(g.site) + "/" + string(g.tank)
		if done[name] {
			continue
		}
		if err := m.group(groups[g]); err != nil {
			return err
		}
		done[name] = true
		if err := m.mark(done); err != nil {
			return err
		}
		m.opt.Log.Info("a tank's readings are brought over", "site", string(g.site), "tank", string(g.tank), "of", len(groups))
	}
	return m.verify(series)
}

// done are the groups that are brought over.
func (m *migration) done() (map[string]bool, error) {
	done := map[string]bool{}
	err := m.to.read(func(tx *bbolt.Tx) error {
		v := tx.Bucket(metaBucket).Get(migratedKey)
		if v == nil {
			return nil
		}
		names, err := record.Open(migratedKey, v)
		for _, n := range bytes.Split(names, []byte{'\n'}) {
			done[string(n)] = true
		}
		return err
	})
	return done, err
}

func (m *migration) mark(done map[string]bool) error {
	var names []byte
	for _, n := range slices.Sorted(maps.Keys(done)) {
		names = append(append(names, n...), '\n')
	}
	return m.to.write(func(t *txn) error { return t.putMeta(migratedKey, string(names)) })
}

// series1 is a series of the old file.
type series1 struct {
	number uint32
	sensor aquarium.SensorKey
}

// series reads the names of the old series. They get numbers of their own in
// the new file.
func (m *migration) series() (xs []*series1, err error) {
	err = m.old.View(func(tx *bbolt.Tx) error {
		return tx.Bucket(seriesBucket).ForEach(func(k, v []byte) error {
			name, err := record.Open(k, v)
			var sensor aquarium.SensorKey
			if err == nil {
				sensor, err = record.DecodeSensor(name)
			}
			if err != nil || len(k) != 4 {
				m.opt.Log.Error("the name of a series is lost, and its readings with it",
					"err", &Damage{File: m.path, Bucket: string(seriesBucket), Key: slices.Clone(k), Err: err})
				return nil
			}
			xs = append(xs, &series1{binary.BigEndian.Uint32(k), sensor})
			return nil
		})
	})
	return xs, err
}

// readings1 is the bucket of format 1 with its blocks.
var readings1 = []byte("readings")

// each gives fn the readings of one old block after the other. What is damaged
// is logged, and left out.
func (m *migration) each(x *series1, fn func([]aquarium.Reading) error) error {
	from := numberKey(x.number)
	for from != nil {
		var blocks [][]aquarium.Reading
		err := m.old.View(func(tx *bbolt.Tx) error {
			c := tx.Bucket(readings1).Cursor()
			k, v := c.Seek(from)
			for from = nil; len(k) == record.KeyLen && binary.BigEndian.Uint32(k) == x.number; k, v = c.Next() {
				if len(blocks) == 64 {
					from = slices.Clone(k)
					break
				}
				rs, err := record.DecodeBlock1(nil, x.sensor, k, v)
				if err != nil {
					m.opt.Log.Error("a damaged block of readings stays behind",
						"err", &Damage{File: m.path, Bucket: string(readings1), Key: slices.Clone(k), Sensor: x.sensor, Err: err})
					continue
				}
				blocks = append(blocks, rs)
			}
			return nil
		})
		if err != nil {
			return err
		}
		for _, rs := range blocks {
			if err := fn(rs); err != nil {
				return err
			}
		}
	}
	return nil
}

// group brings the readings of one tank over. They lie series by series, and
// are packed in memory until whole stretches can be sealed.
func (m *migration) group(xs []*series1) error {
	return m.to.Bulk(func(add func(aquarium.Batch) error) error {
		for _, x := range xs {
			if err := m.each(x, func(rs []aquarium.Reading) error { return add(aquarium.Batch{Readings: rs}) }); err != nil {
				return err
			}
		}
		return nil
	})
}

// verify reads everything back and compares it bit by bit.
func (m *migration) verify(xs []*series1) error {
	for _, x := range xs {
		err := m.each(x, func(old []aquarium.Reading) error {
			first, last := old[0].At, old[len(old)-1].At
			n := 0
			err := m.to.Window(x.sensor, first, last+1, func(r aquarium.Reading) bool {
				if n == len(old) || !record.Same(old[n], r) || old[n].At != r.At || old[n].Retimed != r.Retimed {
					n = -1
					return false
				}
				n++
				return true
			})
			if err == nil && n != len(old) {
				err = fmt.Errorf("readings of %s from %s to %s are not what they were", x.sensor, first, last)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// odd copies what is not a reading, as it is.
func (m *migration) odd() error {
	for _, name := range [][]byte{metaBucket, conflictsBucket, asideBucket, unclaimedBucket, refusedBucket} {
		if err := m.copyBucket(name, nil); err != nil {
			return err
		}
	}
	var shelves [][]byte
	err := m.old.View(func(tx *bbolt.Tx) error {
		return tx.Bucket(ledgerBucket).ForEachBucket(func(k []byte) error {
			shelves = append(shelves, slices.Clone(k))
			return nil
		})
	})
	if err != nil {
		return err
	}
	for _, shelf := range shelves {
		if err := m.copyBucket(ledgerBucket, shelf); err != nil {
			return err
		}
	}
	return nil
}

type pair struct{ key, value []byte }

// copyBucket copies a bucket, or the one named inside of it, some at a time.
func (m *migration) copyBucket(name, inner []byte) error {
	from := []byte{}
	for from != nil {
		var pairs []pair
		var sequence uint64
		err := m.old.View(func(tx *bbolt.Tx) error {
			b := tx.Bucket(name)
			if inner != nil {
				b = b.Bucket(inner)
			}
			sequence = b.Sequence()
			size := 0
			c := b.Cursor()
			k, v := c.Seek(from)
			for from = nil; k != nil; k, v = c.Next() {
				if size > migrationStep {
					from = slices.Clone(k)
					break
				}
				if string(name) != string(metaBucket) || string(k) == string(idKey) || string(k) == string(createdKey) {
					pairs = append(pairs, pair{slices.Clone(k), slices.Clone(v)})
					size += len(k) + len(v)
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
		err = m.to.write(func(t *txn) error {
			b := t.bucket(name)
			if inner != nil {
				var err error
				if b, err = t.shelf(string(inner)); err != nil {
					return err
				}
			}
			for _, p := range pairs {
				if err := b.Put(p.key, p.value); err != nil {
					return err
				}
			}
			return b.SetSequence(sequence)
		})
		if err != nil {
			return err
		}
	}
	return nil
}
