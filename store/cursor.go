package store

import "lentic/collector/aquarium"

// cursor is where a sensor's last reading went: the next mostly follows it.
type cursor struct {
	key      aquarium.SensorKey
	x        *series
	m        *imported // where readings from <= At < to go
	g        *gather
	from, to aquarium.Instant
	most     int     // readings that a stretch had
	next     *cursor // of the sensor that came after it the last time
}

// sameSensor compares first what mostly differs.
func sameSensor(a, b *aquarium.SensorKey) bool {
	return a.Sensor == b.Sensor && a.Tank == b.Tank && a.Site == b.Site
}

// cursor is that of the first reading's sensor, which the one of the last now
// expects next.
func (in *importing) cursor(rs []aquarium.Reading) (*cursor, error) {
	k := &rs[0].Sensor
	c := in.at
	if c.x == nil || !sameSensor(&c.key, k) {
		if c = in.cursors[*k]; c == nil {
			if err := in.enrol(rs); err != nil {
				return nil, err
			}
			c = in.cursors[*k]
		}
	}
	in.at.next = c
	return c, nil
}

// move moves a cursor to the stretch of a time.
func (in *importing) move(c *cursor, at aquarium.Instant) {
	k := openKey{c.x.group.number, stretchOf(c.x.group.number, at)}
	m := in.open[k]
	if m == nil {
		m = &imported{in: in, group: c.x.group, start: k.start, heads: map[uint32]*gather{}}
		in.open[k] = m
	}
	g := m.heads[c.x.number]
	if g == nil {
		if c.m != nil && !c.m.ripe {
			c.most = max(c.most, len(c.g.column.Times)+1)
		}
		g = in.gather(c.x.number, c.most)
		m.heads[c.x.number] = g
	}
	c.m, c.g, c.from, c.to = m, g, m.start, m.start.Add(stretch)
}

// gather is an empty one, in the room of one that was sealed where there is one.
func (in *importing) gather(series uint32, room int) *gather {
	select {
	case g := <-in.spare:
		g.again(series)
		return g
	default:
		return newGather(series, room)
	}
}

// enrol gives cursors to the sensors of readings that have none, and makes the
// series that are new in one transaction.
func (in *importing) enrol(rs []aquarium.Reading) error {
	var fresh []*cursor
	for i := range rs {
		k := &rs[i].Sensor
		if len(fresh) > 0 && sameSensor(&fresh[len(fresh)-1].key, k) || in.cursors[*k] != nil {
			continue
		}
		c := &cursor{key: *k}
		in.cursors[*k] = c
		if c.x, _ = in.s.seriesFor(*k); c.x == nil {
			fresh = append(fresh, c)
		}
	}
	if len(fresh) == 0 {
		return nil
	}
	err := in.s.write(func(t *txn) error {
		for _, c := range fresh {
			if _, err := t.seriesOf(c.key); err != nil {
				return err
			}
		}
		return nil
	})
	for _, c := range fresh {
		if c.x, _ = in.s.seriesFor(c.key); c.x == nil {
			delete(in.cursors, c.key)
		}
	}
	return err
}
