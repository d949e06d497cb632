package main

import (
	"path/filepath"
	"testing"
	"time"

	"lentic/alert"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
	"lentic/store"
)

// BenchmarkWarmUp is what a start does with the last day of every tank, a
// reading each ten seconds of twelve sensors: one operation is one reading. What
// only reads them is its peer.
func BenchmarkWarmUp(b *testing.B) {
	f := fleet{sites: 1, tanksEach: 5, web: 1, mqtt: 2, provider: "http://127.0.0.1:3/", dir: b.TempDir()}
	cfg, err := daemon.LoadConfig(writeConfig(b, f.dir, f.config()))
	if err != nil {
		b.Fatal(err)
	}
	total, _ := f.fill(b, 27*time.Hour, 10*time.Second)
	db, err := store.Open(filepath.Join(f.dir, "data", "lentic.db"), store.Options{Writer: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	site := cfg.Sites[0]
	to := aquarium.At(time.Now())
	from := to.Add(-27 * time.Hour)
	samples := func(yield func(aquarium.Sample) bool) {
		if err := alert.Samples(db, site, nil, from, to, yield); err != nil {
			b.Error(err)
		}
	}
	for _, what := range []struct {
		name string
		do   func() (n int)
	}{
		{"window", func() (n int) {
			for _, k := range db.Sensors() {
				if err := db.Window(k, from, to, func(aquarium.Reading) bool { n++; return true }); err != nil {
					b.Error(err)
				}
			}
			return n
		}},
		{"samples", func() (n int) {
			for range samples {
				n++
			}
			return n
		}},
		{"judged", func() int {
			alert.Replay(site, samples, nil, to.Add(-time.Minute), to, func(aquarium.Transition) {})
			return total
		}},
	} {
		b.Run(what.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				n += what.do()
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/reading")
		})
	}
}
