package store

import (
	"encoding/binary"
	"fmt"
	"slices"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// series is what is known in memory of one sensor's readings.
type series struct {
	key    aquarium.SensorKey
	number uint32
	group  *group
	// sealed are the starts of the first and last block with readings of
	// it; first after last: there are none.
	first, last aquarium.Instant
	latest      aquarium.Reading // of the greatest time; known says that it has been looked up
	known       bool
	tail        tail
	// tip is the greatest time of a reading of the series in the batch that
	// is being written, or newest; it is the transaction's of that number.
	tip    aquarium.Instant
	tipped uint64
	// after is the series whose reading followed the last one: that of the
	// next sensor of its message, mostly.
	after *series
}

// newest is a time that no reading of the series lies after.
func (s *series) newest() aquarium.Instant {
	switch {
	case s.known:
		return s.latest.At
	case s.first <= s.last:
		return max(s.last.Add(stretch), s.latest.At)
	}
	return never
}

// isLatest remembers the reading of the greatest time, without what mostly stays
// as it is.
func (s *series) isLatest(p *record.Point) {
	if l := &s.latest; s.known {
		l.At, l.Value, l.Retimed = p.At, p.Value, p.Retimed
		if l.Unit != p.Unit {
			l.Unit = p.Unit
		}
		return
	}
	s.latest, s.known = p.Reading(s.key), true
}

// group is the series of one tank, or of a site's gateways, whose readings are
// sealed together.
type group struct {
	number uint32
	open   map[aquarium.Instant]*pending // by the start of their stretch
}

type groupKey struct {
	site aquarium.SiteID
	tank aquarium.TankID
}

func groupOf(k aquarium.SensorKey) groupKey { return groupKey{k.Site, k.Tank} }

func numberKey(n uint32) []byte { return binary.BigEndian.AppendUint32(nil, n) }

// catalogue is every series by its sensor and by its number, and the groups.
type catalogue struct {
	series     map[aquarium.SensorKey]*series
	byNumber   map[uint32]*series
	groups     map[groupKey]*group
	nextSeries uint32 // numbers are never given twice
	nextGroup  uint32
}

func newCatalogue() catalogue {
	return catalogue{
		series: map[aquarium.SensorKey]*series{}, byNumber: map[uint32]*series{}, groups: map[groupKey]*group{},
		nextSeries: 1, nextGroup: 1,
	}
}

// add puts a series into the catalogue, and its group where it is new.
func (c *catalogue) add(s *series, groupNumber uint32) {
	g, ok := c.groups[groupOf(s.key)]
	if !ok {
		g = &group{number: groupNumber, open: map[aquarium.Instant]*pending{}}
		c.groups[groupOf(s.key)] = g
	}
	s.group = g
	c.series[s.key], c.byNumber[s.number] = s, s
	c.nextSeries, c.nextGroup = max(c.nextSeries, s.number+1), max(c.nextGroup, groupNumber+1)
}

// loadSeries reads the names of all series, and how far they are sealed. A name
// that cannot be read costs only its own readings: its number is not given
// again.
func (s *Store) loadSeries() error {
	var lost map[uint32]bool
	err := s.read(func(tx *bbolt.Tx) (err error) {
		if err := s.loadNames(tx); err != nil {
			return err
		}
		lost, err = s.loadBounds(tx)
		return err
	})
	if err == nil {
		err = s.findBounds(lost)
	}
	for _, x := range s.catalogue.series {
		if x.first > x.last {
			x.latest, x.known = aquarium.Reading{Sensor: x.key, At: never}, true
		}
	}
	return err
}

func (s *Store) loadNames(tx *bbolt.Tx) error {
	s.catalogue = newCatalogue()
	return tx.Bucket(seriesBucket).ForEach(func(k, v []byte) error {
		if len(k) == 4 {
			s.catalogue.nextSeries = max(s.catalogue.nextSeries, binary.BigEndian.Uint32(k)+1)
		}
		x, group, err := openSeries(k, v)
		if err != nil {
			d := &Damage{File: s.path, Bucket: string(seriesBucket), Key: slices.Clone(k), Err: err}
			s.opt.Log.Error("the name of a series is lost, and its readings with it", "err", d)
			return nil
		}
		s.catalogue.add(x, group)
		return nil
	})
}

func openSeries(k, v []byte) (*series, uint32, error) {
	if len(k) != 4 {
		return nil, 0, fmt.Errorf("%w: key of %d bytes", record.ErrCorrupt, len(k))
	}
	content, err := record.Open(k, v)
	if err != nil {
		return nil, 0, err
	}
	group, sensor, err := record.DecodeSeries(content)
	return &series{key: sensor, number: binary.BigEndian.Uint32(k), first: forever, last: never}, group, err
}

// seriesOf is the sensor's series, made where there is none.
func (t *txn) seriesOf(k aquarium.SensorKey) (*series, error) {
	if x, ok := t.s.catalogue.series[k]; ok {
		return x, nil
	}
	if x, ok := t.made.series[k]; ok {
		return x, nil
	}
	if t.made.series == nil {
		t.made = newCatalogue()
		t.made.nextSeries, t.made.nextGroup = t.s.catalogue.nextSeries, t.s.catalogue.nextGroup
	}
	number := t.made.nextGroup
	if g, ok := t.s.catalogue.groups[groupOf(k)]; ok {
		number = g.number
	} else if g, ok := t.made.groups[groupOf(k)]; ok {
		number = g.number
	}
	x := &series{key: k, number: t.made.nextSeries, first: forever, last: never, latest: aquarium.Reading{Sensor: k, At: never}, known: true}
	key := numberKey(x.number)
	if err := t.bucket(seriesBucket).Put(key, record.Seal(nil, key, record.EncodeSeries(number, k))); err != nil {
		return nil, err
	}
	t.made.add(x, number)
	return x, nil
}

func (s *Store) seriesFor(k aquarium.SensorKey) (*series, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	x, ok := s.catalogue.series[k]
	return x, ok
}

// Sensors lists the sensors that have readings, in the order of their keys.
func (s *Store) Sensors() []aquarium.SensorKey {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var ks []aquarium.SensorKey
	for k := range s.catalogue.series {
		ks = append(ks, k)
	}
	slices.SortFunc(ks, record.Compare)
	return ks
}
