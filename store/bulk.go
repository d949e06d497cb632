package store

import "lentic/collector/aquarium"

// bulkReadings is how many readings Bulk writes in one transaction. Each block
// of readings is then written once or twice instead of once a batch, which is
// where the time goes; the sync costs little beside.
const bulkReadings = 100_000

// Bulk gives fn an add that gathers batches into large transactions, for an
// import or a first filling. What add took is on disk when Bulk returns nil;
// when fn fails, or the disk does, some of it may be. add keeps nothing of the
// batch it is given.
func (s *Store) Bulk(fn func(add func(aquarium.Batch) error) error) error {
	var held aquarium.Batch
	flush := func() error {
		if held.Len() == 0 {
			return nil
		}
		_, err := s.Append(held, nil)
		held = aquarium.Batch{Readings: held.Readings[:0]}
		return err
	}
	err := fn(func(b aquarium.Batch) error {
		held.Readings = append(held.Readings, b.Readings...)
		held.Aside = append(held.Aside, b.Aside...)
		held.Unclaimed = append(held.Unclaimed, b.Unclaimed...)
		held.Refused = append(held.Refused, b.Refused...)
		held.Arrived = max(held.Arrived, b.Arrived)
		if held.Len() < bulkReadings {
			return nil
		}
		return flush()
	})
	if err != nil {
		return err
	}
	return flush()
}
