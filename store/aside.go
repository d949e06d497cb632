package store

import (
	"slices"
	"strings"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store/record"
)

// asidePrefix is the beginning of the keys of one gateway's records. Ids
// contain no NUL.
func asidePrefix(site aquarium.SiteID, g aquarium.GatewayID) []byte {
	return []byte(string(site) + "\x00" + string(g) + "\x00")
}

func (t *txn) shelveAside(as []aquarium.Aside) error {
	if len(as) == 0 {
		return nil
	}
	b, st := t.bucket(asideBucket), &t.s.shelf
	if st.asides == nil {
		st.asides = map[string]int{}
	}
	for _, a := range as {
		prefix := asidePrefix(a.Reading.Sensor.Site, a.Gateway)
		had, ok := st.asides[string(prefix)]
		if !ok {
			had = countPrefix(b.Bucket, prefix)
		}
		if _, err := push(b, prefix, record.EncodeAside(a)); err != nil {
			return err
		}
		had++
		if had > record.AsideEach {
			if k, _ := b.Cursor().Seek(prefix); k != nil {
				if err := b.Delete(slices.Clone(k)); err != nil {
					return err
				}
				had--
			}
			t.s.opt.Log.Warn("too many records wait for an offset: the oldest is dropped", "site", string(a.Reading.Sensor.Site), "gateway", string(a.Gateway))
		}
		st.asides[string(prefix)] = had
	}
	return nil
}

func countPrefix(b *bbolt.Bucket, prefix []byte) int {
	n := 0
	c := b.Cursor()
	for k, _ := c.Seek(prefix); hasPrefix(k, prefix); k, _ = c.Next() {
		n++
	}
	return n
}

func hasPrefix(k, prefix []byte) bool {
	return k != nil && strings.HasPrefix(string(k), string(prefix))
}

// eachAside decodes the records whose keys begin with prefix.
func (s *Store) eachAside(b *bbolt.Bucket, prefix []byte, fn func(key []byte, a aquarium.Aside)) {
	c := b.Cursor()
	for k, v := c.Seek(prefix); hasPrefix(k, prefix); k, v = c.Next() {
		if a, ok := unseal(s, asideBucket, k, v, record.DecodeAside); ok {
			fn(k, a)
		}
	}
}

// SetAside sums up the records that wait for an offset, by site and gateway.
func (s *Store) SetAside() []record.SetAside {
	var sums []record.SetAside
	s.browse(asideBucket, nil, func(k, v []byte) bool {
		a, ok := unseal(s, asideBucket, k, v, record.DecodeAside)
		if !ok {
			return true
		}
		n := len(sums)
		if n == 0 || sums[n-1].Site != a.Reading.Sensor.Site || sums[n-1].Gateway != a.Gateway {
			sums = append(sums, record.SetAside{Site: a.Reading.Sensor.Site, Gateway: a.Gateway})
			n++
		}
		sums[n-1].Records++
		sums[n-1].Claimed, sums[n-1].Arrived = a.Reading.At, a.Arrived
		return true
	})
	return sums
}

// Asides lists the records of a site that wait for an offset, gateway by
// gateway in order of arrival.
func (s *Store) Asides(site aquarium.SiteID) []aquarium.Aside {
	var list []aquarium.Aside
	prefix := []byte(string(site) + "\x00")
	s.browse(asideBucket, prefix, func(k, v []byte) bool {
		if !hasPrefix(k, prefix) {
			return false
		}
		if a, ok := unseal(s, asideBucket, k, v, record.DecodeAside); ok {
			list = append(list, a)
		}
		return true
	})
	return list
}

// ReleaseAside moves a gateway's records into the readings, offset later than
// they claim and marked Retimed, in one transaction with what hook writes.
// What would still have an impossible time stays aside. The outcome is that of
// appending them.
func (s *Store) ReleaseAside(site aquarium.SiteID, g aquarium.GatewayID, offset time.Duration, hook Hook) (aquarium.Outcome, error) {
	now := aquarium.At(s.opt.Now())
	return s.take(aquarium.Batch{Arrived: now}, false, hook, func(t *txn, b *aquarium.Batch) error {
		bucket, prefix := t.bucket(asideBucket), asidePrefix(site, g)
		var keys [][]byte
		s.eachAside(bucket.Bucket, prefix, func(k []byte, a aquarium.Aside) {
			r := a.Reading
			r.At, r.Retimed = r.At.Add(offset), true
			if record.Plausible(r.At, now) {
				b.Readings = append(b.Readings, r)
				keys = append(keys, slices.Clone(k))
			}
		})
		delete(s.shelf.asides, string(prefix))
		return deleteAll(bucket, keys)
	})
}
