package daemon

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/wire"
	"lentic/store"
)

// importTank is a site of one tank with twelve sensors.
func importTank() *config.Config {
	tank := aquarium.Tank{ID: "atrium"}
	for i := range 12 {
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: aquarium.SensorID(fmt.Sprintf("n%d", i)), Quantity: aquarium.Level})
	}
	return &config.Config{Sites: []aquarium.Site{{ID: "quillmere-library", Tanks: []aquarium.Tank{tank}}}}
}

// historyCSV is days of a tank at ten seconds, message by message.
func historyCSV(days int, from time.Time) []byte {
	var b bytes.Buffer
	b.WriteString("time,site,tank,sensor,value\n")
	r := rand.New(rand.NewPCG(1, 2))
	level := [12]int{}
	for n := range days * 8640 {
		at := from.Add(time.Duration(n) * 10 * time.Second).Format(time.RFC3339)
		for i := range level {
			level[i] += r.IntN(5) - 2
			fmt.Fprintf(&b, "%s,quillmere-library,atrium,n%d,%.1f\n", at, i, float64(level[i])/10)
		}
	}
	return b.Bytes()
}

func importInto(t testing.TB, dir string) *services {
	t.Helper()
	s := &services{now: time.Now, log: slog.New(slog.DiscardHandler)}
	s.past = newPast(s)
	s.cfg.Store(importTank())
	db, err := store.Open(filepath.Join(dir, storeName), store.Options{Reserve: -1, Good: s.counts})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	s.store = db
	return s
}

// BenchmarkImport: a tank's history, durable, beside parsing alone.
func BenchmarkImport(b *testing.B) {
	const days = 20
	text := historyCSV(days, time.Now().Add(-300*24*time.Hour).UTC().Truncate(time.Hour))
	rows := float64(days * 8640 * 12)
	report := func(b *testing.B) { b.ReportMetric(rows*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mrows/s") }
	b.Run("parse", func(b *testing.B) {
		for b.Loop() {
			n := 0
			if err := wire.ReadCSV(bytes.NewReader(text), func(int, aquarium.Sample) error { n++; return nil }, func(int, error) error { return nil }); err != nil || float64(n) != rows {
				b.Fatal(n, err)
			}
		}
		report(b)
	})
	b.Run("import", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			s := importInto(b, b.TempDir())
			b.StartTimer()
			if err := imports(context.Background(), s, []byte(`{}`), bytes.NewReader(text), io.Discard); err != nil {
				b.Fatal(err)
			}
		}
		report(b)
	})
	b.Run("again", func(b *testing.B) {
		s := importInto(b, b.TempDir())
		if err := imports(context.Background(), s, []byte(`{}`), bytes.NewReader(text), io.Discard); err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			if err := imports(context.Background(), s, []byte(`{}`), bytes.NewReader(text), io.Discard); err != nil {
				b.Fatal(err)
			}
		}
		report(b)
	})
}
