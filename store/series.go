package store

import (
	"encoding/binary"
	"fmt"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

func seriesKey(id uint32) []byte { return binary.BigEndian.AppendUint32(nil, id) }

// loadSeries reads the names of all series. One that cannot be read costs only
// its own readings: its number is not given again.
func (s *Store) loadSeries(tx *bbolt.Tx) error {
	s.series, s.next = map[aquarium.SensorKey]uint32{}, 1
	// A series' name is written with its first reading, but should a name be
	// lost its blocks must not fall to another.
	if k, _ := tx.Bucket(readingsBucket).Cursor().Last(); k != nil {
		if id, _, err := record.SplitKey(k); err == nil {
			s.next = id + 1
		}
	}
	return tx.Bucket(seriesBucket).ForEach(func(k, v []byte) error {
		sensor, id, err := openSeries(k, v)
		if len(k) == 4 {
			s.next = max(s.next, binary.BigEndian.Uint32(k)+1)
		}
		if err != nil {
			d := &Damage{File: s.path, Bucket: string(seriesBucket), Key: slices.Clone(k), Err: err}
			s.damage = append(s.damage, d)
			s.opt.Log.Error("the name of a series is lost, and its readings with it", "err", d)
			return nil
		}
		s.series[sensor] = id
		return nil
	})
}

func openSeries(k, v []byte) (aquarium.SensorKey, uint32, error) {
	if len(k) != 4 {
		return aquarium.SensorKey{}, 0, fmt.Errorf("%w: key of %d bytes", record.ErrCorrupt, len(k))
	}
	name, err := record.Open(k, v)
	if err != nil {
		return aquarium.SensorKey{}, 0, err
	}
	sensor, err := record.DecodeSensor(name)
	return sensor, binary.BigEndian.Uint32(k), err
}

// seriesOf is the number of the sensor's series, made where there is none.
func (t *txn) seriesOf(k aquarium.SensorKey) (uint32, error) {
	if id, ok := t.made[k]; ok {
		return id, nil
	}
	if id, ok := t.s.seriesID(k); ok {
		return id, nil
	}
	t.s.mu.RLock()
	id := t.s.next + uint32(len(t.made))
	t.s.mu.RUnlock()
	key := seriesKey(id)
	if err := t.bolt.Bucket(seriesBucket).Put(key, record.Seal(nil, key, record.EncodeSensor(k))); err != nil {
		return 0, err
	}
	t.made[k] = id
	return id, nil
}

func (s *Store) seriesID(k aquarium.SensorKey) (uint32, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	id, ok := s.series[k]
	return id, ok
}

// Sensors lists the sensors that have readings, in the order of their keys.
func (s *Store) Sensors() []aquarium.SensorKey {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var ks []aquarium.SensorKey
	for k := range s.series {
		ks = append(ks, k)
	}
	slices.SortFunc(ks, record.Compare)
	return ks
}
