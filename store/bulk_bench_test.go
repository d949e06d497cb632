package store_test

import (
	"path/filepath"
	"testing"

	"lentic/collector/aquarium"
	"lentic/store"
)

// BenchmarkImport stores three days of a tank's twelve sensors, as an import
// hands them over.
func BenchmarkImport(b *testing.B) {
	const days = 3
	batches := jitteredBatches(days)
	for b.Loop() {
		s := open(b, filepath.Join(b.TempDir(), "lentic.db"))
		tally, err := s.Import(false, func(add func(aquarium.Batch) error) error {
			for _, batch := range batches {
				if err := add(batch); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil || tally != (store.Tally{Fresh: days * 8640 * 12}) {
			b.Fatal(tally, err)
		}
		s.Close()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(days*8640*12), "ns/reading")
}
