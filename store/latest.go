package store

import (
	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// Latest is the sensor's reading of the greatest time, false where it has
// none. It is remembered, so asking often costs nothing. Of damaged readings
// it sees nothing: Window and Check tell of them.
func (s *Store) Latest(k aquarium.SensorKey) (aquarium.Reading, bool) {
	s.mu.RLock()
	r, ok := s.latest[k]
	id, known := s.series[k]
	commits := s.commits
	s.mu.RUnlock()
	if ok || !known {
		return r, ok
	}
	r, ok = s.end(k, id, func(c *bbolt.Cursor) ([]byte, []byte) { return floor(c, id, forever) }, (*bbolt.Cursor).Prev,
		func(rs []aquarium.Reading) aquarium.Reading { return rs[len(rs)-1] })
	s.mu.Lock()
	defer s.mu.Unlock()
	if ok && commits == s.commits {
		s.latest[k] = r
	}
	return r, ok
}

// First is the sensor's reading of the least time, false where it has none.
func (s *Store) First(k aquarium.SensorKey) (aquarium.Reading, bool) {
	id, known := s.seriesID(k)
	if !known {
		return aquarium.Reading{}, false
	}
	return s.end(k, id, func(c *bbolt.Cursor) ([]byte, []byte) { return c.Seek(seriesKey(id)) }, (*bbolt.Cursor).Next,
		func(rs []aquarium.Reading) aquarium.Reading { return rs[0] })
}

// end walks in from one end of a series to the first block that can be read.
func (s *Store) end(k aquarium.SensorKey, id uint32, first func(*bbolt.Cursor) ([]byte, []byte), next func(*bbolt.Cursor) ([]byte, []byte),
	pick func([]aquarium.Reading) aquarium.Reading) (r aquarium.Reading, ok bool) {
	err := s.read(func(tx *bbolt.Tx) error {
		c := tx.Bucket(readingsBucket).Cursor()
		for key, value := first(c); ofSeries(key, id); key, value = next(c) {
			rs, err := record.DecodeBlock(nil, k, key, value)
			if err == nil {
				r, ok = pick(rs), true
				return nil
			}
		}
		return nil
	})
	if err != nil {
		s.opt.Log.Error("readings cannot be read", "sensor", k.String(), "err", err)
	}
	return r, ok
}
