//go:build unix

package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"slices"
	"syscall"
	"testing"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
	"lentic/collector/wire"
)

// backtestConfig is a tank of twelve sensors with everything that is judged.
const backtestConfig = `data: ./data
sites:
  - id: quillmere-library
    timezone: Europe/London
    tanks:
      - id: atrium
        size: { length_cm: 150, width_cm: 60, fill_cm: 52, displaced_l: 40 }
        started: 2030-02-10
        alkalinity_dkh: 4
        lights: { on: "10:00", off: "18:00" }
        limits: { ph: [6.1, 8.4], temperature: [22, 28], co2_mg_l: 50 }
        sensors:
          ph: { quantity: ph }
          water: { quantity: temperature }
          level: { quantity: level }
          flow-a: { quantity: flow }
          flow-b: { quantity: flow }
          valve: { quantity: switch }
          topoff: { quantity: switch }
          heat: { quantity: switch }
          mains: { quantity: switch }
          wet: { quantity: switch }
          store: { quantity: volume }
          refill: { quantity: switch }
        equipment:
          co2: { ph: ph, target: 6.6, band: 0.05, valve: valve, hours: "08:00-17:00" }
          top_off: { level: level, band_mm: 4, pump: topoff, rate_l_h: 90, from: store }
          filters: [ { id: a, flow: flow-a, rated_l_h: 1100 }, { id: b, flow: flow-b, rated_l_h: 1100, stops: [ "12:30 10m" ] } ]
          reservoir: { volume: store, capacity_l: 180, refill: refill, production_l_h: 70 }
          heater: { temperature: water, switch: heat, target: 24.5 }
          power: { mains: mains }
          floor: { wet: wet }
`

// simulated writes days of a simulated tank as CSV, by time or, as an export
// does, by sensor.
func simulated(tb testing.TB, cfg *config.Config, path string, days int, bySensor bool) (rows int) {
	tb.Helper()
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	site, tank := cfg.Sites[0], cfg.Sites[0].Tanks[0]
	meaning := map[aquarium.SensorID]*measure.Deriver{}
	for _, s := range tank.Sensors {
		meaning[s.ID] = measure.For(aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: s.ID}, s)
	}
	begin := aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))
	s := sim.New(tank, site.ID, site.Timezone, sim.Options{Seed: 7, Start: begin})
	row := func(yield func(aquarium.Sample) bool) {
		var rs []aquarium.Reading
		for at := begin; at < begin.Add(time.Duration(days)*24*time.Hour); at = at.Add(10 * time.Second) {
			s.Advance(at)
			rs = s.AppendReadings(rs[:0])
			for _, r := range rs {
				if x, ok := meaning[r.Sensor.Sensor].Sample(r); ok {
					rows++
					if !yield(x) {
						return
					}
				}
			}
		}
	}
	if bySensor {
		all := slices.Collect(row)
		slices.SortStableFunc(all, func(a, b aquarium.Sample) int {
			if a.Sensor == b.Sensor {
				return 0
			} else if a.Sensor.Less(b.Sensor) {
				return -1
			}
			return 1
		})
		row = slices.Values(all)
	}
	if err := wire.WriteCSV(w, false, row); err != nil {
		tb.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	return rows
}

// processor is the processor time that was used so far.
func processor(tb testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// heap looks again and again how much memory is in use, and says at its end how much
// that was at the most, in MB.
func heap() (most func() float64) {
	done, found := make(chan struct{}), make(chan uint64)
	go func() {
		is, most := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}, uint64(0)
		tick := time.NewTicker(5 * time.Millisecond)
		defer tick.Stop()
		for {
			metrics.Read(is)
			most = max(most, is[0].Value.Uint64())
			select {
			case <-done:
				found <- most
				return
			case <-tick.C:
			}
		}
	}()
	return func() float64 {
		close(done)
		return float64(<-found) / 1e6
	}
}

// BenchmarkBacktest judges a fortnight of a tank of twelve sensors every ten
// seconds, reading included; its peer only reads the same rows. A tank-year is
// 38 million readings. Two days of it take as much memory, but for what is learned.
func BenchmarkBacktest(b *testing.B) {
	dir := b.TempDir()
	cfg, err := daemon.LoadConfig(writeConfig(b, dir, backtestConfig))
	if err != nil {
		b.Fatal(err)
	}
	other, problems := config.ParseSet(cfg.File, cfg.Source, config.OS, []config.Set{"atrium.limits.co2_mg_l=35"})
	if problems != nil {
		b.Fatal(problems)
	}
	byTime, bySensor := filepath.Join(dir, "time.csv"), filepath.Join(dir, "sensor.csv")
	rows := simulated(b, cfg, byTime, 14, false)
	simulated(b, cfg, bySensor, 14, true)
	twoDays := filepath.Join(dir, "two.csv")
	some := simulated(b, cfg, twoDays, 2, false)
	judge := func(path string, other *config.Config) func() error {
		return func() error {
			r := recorded{path: path, cfg: cfg, other: other, p: &progress{now: time.Now}}
			found, err := r.judge(context.Background())
			if err == nil {
				err = found.Write(io.Discard, false, false)
			}
			return err
		}
	}
	for _, what := range []struct {
		name string
		rows int
		do   func() error
	}{
		{"read only", rows, func() error {
			f, err := os.Open(byTime)
			if err != nil {
				return err
			}
			defer f.Close()
			n := 0
			err = wire.ReadCSV(f, func(int, aquarium.Sample) error { n++; return nil }, func(_ int, err error) error { return err })
			if n != rows {
				return fmt.Errorf("%d rows, want %d: %w", n, rows, err)
			}
			return err
		}},
		{"by time", rows, judge(byTime, cfg)},
		{"by sensor", rows, judge(bySensor, cfg)},
		{"two limits", rows, judge(byTime, other)},
		{"two days", some, judge(twoDays, cfg)},
	} {
		b.Run(what.name, func(b *testing.B) {
			runtime.GC()
			used, memory := processor(b), heap()
			for b.Loop() {
				if err := what.do(); err != nil {
					b.Fatal(err)
				}
			}
			used = processor(b) - used
			b.ReportMetric(memory(), "MB")
			b.ReportMetric(used.Seconds()/float64(b.N)/float64(what.rows)*37.8e6, "processor-s/tank-year")
			each := float64(b.Elapsed().Nanoseconds()) / float64(b.N) / float64(what.rows)
			b.ReportMetric(1e3/each, "Mreadings/s")
			b.ReportMetric(each*37.8e6/1e9, "s/tank-year")
			b.ReportMetric(0, "ns/op")
		})
	}
}
