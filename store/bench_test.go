package store_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
)

func BenchmarkAppend(b *testing.B) {
	for _, n := range []int{12, 600, 5000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := open(b, filepath.Join(b.TempDir(), "lentic.db"))
			at := base
			for b.Loop() {
				batch := aquarium.Batch{Readings: make([]aquarium.Reading, n)}
				at = at.Add(10 * time.Second)
				for i := range batch.Readings {
					batch.Readings[i] = aquarium.Reading{Sensor: key(i % 600), At: at + aquarium.Instant(i), Value: 1, Unit: "pH"}
				}
				if _, err := s.Append(batch, nil); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
		})
	}
}

// fortnight fills a store with 14 days at a reading a minute.
func fortnight(b *testing.B, s *store.Store, sensors int) {
	b.Helper()
	err := s.Bulk(func(add func(aquarium.Batch) error) error {
		var batch aquarium.Batch
		for m := range 14 * 24 * 60 {
			for n := range sensors {
				batch.Readings = append(batch.Readings, aquarium.Reading{Sensor: key(n), At: base.Add(time.Duration(m) * time.Minute), Value: 6.58, Unit: "pH"})
			}
			if len(batch.Readings) >= 12000 || m == 14*24*60-1 {
				if err := add(batch); err != nil {
					return err
				}
				batch.Readings = batch.Readings[:0]
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
}

// BenchmarkBulkFortnight loads the demo's 1.1 million readings.
func BenchmarkBulkFortnight(b *testing.B) {
	for b.Loop() {
		s := open(b, filepath.Join(b.TempDir(), "lentic.db"))
		fortnight(b, s, 55)
		b.ReportMetric(float64(s.Size())/(14*24*60*55), "bytes/reading")
		s.Close()
	}
}

// jitteredBatches are days of 12 sensors that send a value each ten seconds, at
// times of their own, a little late or early, that rarely repeats itself.
func jitteredBatches(days int) (all []aquarium.Batch) {
	rnd := rand.New(rand.NewPCG(7, 7))
	var keys []aquarium.SensorKey
	for n := range 12 {
		keys = append(keys, key(n))
	}
	var batch aquarium.Batch
	for turn := range days * 8640 {
		for n := range 12 {
			at := base.Add(time.Duration(turn) * 10 * time.Second).Add(time.Duration(20*rnd.NormFloat64()) * time.Millisecond)
			v := math.Round(658+30*math.Sin(float64(turn)/1000)+0.8*rnd.NormFloat64()) / 100
			batch.Readings = append(batch.Readings, aquarium.Reading{Sensor: keys[n], At: at, Value: v, Unit: "pH"})
		}
		if len(batch.Readings) >= 4096 || turn == days*8640-1 {
			all = append(all, batch)
			batch.Readings = nil
		}
	}
	return all
}

// jittered fills a store with them.
func jittered(b *testing.B, s *store.Store, days int) {
	b.Helper()
	err := s.Bulk(func(add func(aquarium.Batch) error) error {
		for _, batch := range jitteredBatches(days) {
			if err := add(batch); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
}

// BenchmarkWindowOfADay reads a day of one sensor, again and again, and of
// sensors and days that were not read for a while, which must be decoded.
func BenchmarkWindowOfADay(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "lentic.db"))
	const days = 14
	jittered(b, s, days)
	for _, c := range []struct {
		name string
		next func(turn int) (sensor, day int)
	}{
		{"again", func(int) (int, int) { return 5, 7 }},
		{"decoded", func(turn int) (int, int) { return turn % 12, 1 + turn/12%(days-2) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			turn, n := 0, 0
			for b.Loop() {
				sensor, day := c.next(turn)
				from := base.Add(time.Duration(day)*24*time.Hour + 5*time.Hour)
				if err := s.Window(key(sensor), from, from.Add(24*time.Hour), func(aquarium.Reading) bool { n++; return true }); err != nil {
					b.Fatal(err)
				}
				turn++
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/reading")
		})
	}
}

// BenchmarkWindowOfToday reads a day that is in the log only, as today's mostly is.
func BenchmarkWindowOfToday(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "lentic.db"))
	for _, batch := range jitteredBatches(1) {
		if _, err := s.Append(batch, nil); err != nil {
			b.Fatal(err)
		}
	}
	n := 0
	for b.Loop() {
		if err := s.Window(key(5), base.Add(-time.Hour), base.Add(25*time.Hour), func(aquarium.Reading) bool { n++; return true }); err != nil {
			b.Fatal(err)
		}
	}
	if n != b.N*8640 {
		b.Fatalf("%d readings, want %d", n, b.N*8640)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/reading")
}

// BenchmarkSums makes charts of twelve days of one sensor: by a width that is
// made of sums alone, one whose every end cuts rows in two, and one that is
// narrower than any row; beside summing what Window gives.
func BenchmarkSums(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "lentic.db"))
	jittered(b, s, 14)
	from, to := base.Add(24*time.Hour), base.Add(13*24*time.Hour)
	const readings = 12 * 8640
	for _, width := range []time.Duration{11 * time.Hour, 39_420 * time.Second, 50 * time.Minute, 47*time.Minute + time.Second, time.Minute} {
		b.Run(width.String(), func(b *testing.B) {
			n := 0
			for b.Loop() {
				if err := s.Sums(key(5), from, to, width, func(aquarium.Sum) bool { n++; return true }); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/readings, "ns/reading")
		})
	}
	b.Run("window", func(b *testing.B) {
		sum, least, most := 0.0, 0.0, 0.0
		for b.Loop() {
			err := s.Window(key(5), from, to, func(r aquarium.Reading) bool {
				sum, least, most = sum+r.Value, min(least, r.Value), max(most, r.Value)
				return true
			})
			if err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/readings, "ns/reading")
	})
}

// BenchmarkOpen opens a file with 100 tanks of 12 sensors, and asks for every
// sensor's newest reading. Making the file takes a minute, so it is made only
// where LENTIC_BENCH_OPEN names a place for it.
func BenchmarkOpen(b *testing.B) {
	path := os.Getenv("LENTIC_BENCH_OPEN")
	if path == "" {
		b.Skip("LENTIC_BENCH_OPEN names no file")
	}
	s := open(b, path)
	if len(s.Sensors()) == 0 {
		fortnight(b, s, 1200)
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		s := open(b, path)
		for _, k := range s.Sensors() {
			if _, ok := s.Latest(k); !ok {
				b.Fatal(k)
			}
		}
		s.Close()
	}
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(info.Size())/(14*24*60*1200), "bytes/reading")
}
