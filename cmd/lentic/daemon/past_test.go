package daemon

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// daysOf is a store with so many days of a tank of a pH probe and a level, a reading
// every ten seconds, up to the midnight of UTC before last; the electrode hangs in
// the air for a quarter of an hour at noon of each day.
func daysOf(t testing.TB, days int, sensors []aquarium.Sensor) (*services, aquarium.TankKey, aquarium.Instant) {
	t.Helper()
	s := importInto(t, t.TempDir())
	k := aquarium.TankKey{Site: "quillmere-library", Tank: "atrium"}
	s.cfg.Store(&config.Config{Sites: []aquarium.Site{{ID: k.Site, Timezone: time.UTC, Tanks: []aquarium.Tank{{ID: k.Tank, Sensors: sensors}}}}})
	end := aquarium.At(time.Now()).Floor(pastDay)
	_, err := s.store.Import(false, func(add func(aquarium.Batch) error) error {
		for _, c := range sensors {
			var rs []aquarium.Reading
			for i := range days * 8640 {
				out := float64(i%8640-4320) / 6 // minutes after noon
				v := math.Round((6.6+0.1*math.Sin(float64(i)/1375)+0.008*math.Sin(float64(i*i)))*100) / 100
				if c.Quantity == aquarium.PH && out >= 0 && out < 15 {
					v = math.Round((8.2-0.9*math.Exp(-out/5)+0.15*math.Sin(out*11))*100) / 100
				}
				rs = append(rs, aquarium.Reading{Sensor: aquarium.SensorKey{Site: k.Site, Tank: k.Tank, Sensor: c.ID},
					At: end.Add(-time.Duration(days)*pastDay + time.Duration(i)*10*time.Second), Value: v, Unit: c.Quantity.Unit()})
				if len(rs) == importBatch || i == days*8640-1 {
					if err := add(aquarium.Batch{Readings: rs}); err != nil {
						return err
					}
					rs = nil
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s, k, end
}

// spent is a context that is over by its Err alone: whoever asks with it gets its
// turn, and only what is known.
type spent struct{ context.Context }

func (spent) Err() error { return context.Canceled }

// TestPast: the spells of days that are over are those that an export finds, are
// kept, and are found anew once the configuration or a reading of then is another.
func TestPast(t *testing.T) {
	s, k, end := daysOf(t, 4, []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}, {ID: "level", Quantity: aquarium.Level}})
	ctx := context.Background()
	ask := func() map[aquarium.SensorID][]screen.Spell {
		t.Helper()
		got, err := s.past.spells(ctx, k, end.Add(-36*time.Hour), end)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	got := ask()
	if len(got) != 1 || len(got["ph"]) != 2 {
		t.Fatalf("got %v, want two spells of the pH", got)
	}
	for i, x := range got["ph"] {
		noon := end.Add(-36*time.Hour + time.Duration(i)*pastDay)
		if x.Quality != aquarium.InAir || x.From != noon || x.To.Sub(noon) < 14*time.Minute || x.To.Sub(noon) > 16*time.Minute {
			t.Errorf("got %s to %s, %s: want in the air for a quarter of an hour from %s", x.From, x.To, x.Quality, noon)
		}
	}
	var failed error
	exported := map[aquarium.Instant]bool{}
	for v := range s.judged(ctx, ExportArgs{Site: k.Site, Tank: k.Tank, Sensor: "ph", From: end.Add(-36 * time.Hour), To: end, Quality: true}, &failed) {
		if !v.Quality.Judged() {
			exported[v.At] = true
		}
	}
	inside := 0
	for at := range exported {
		for _, x := range got["ph"] {
			if at >= x.From && at <= x.To {
				inside++
			}
		}
	}
	if failed != nil || inside != len(exported) || inside < 2*84 {
		t.Errorf("%d of the %d that an export marks lie in the spells (%v)", inside, len(exported), failed)
	}

	gone := spent{ctx}
	if _, err := s.past.spells(gone, k, end.Add(-36*time.Hour), end); err != nil {
		t.Errorf("known days cost nothing: %v", err)
	}
	s.past.forget(k, end.Add(-time.Hour)) // a reading came late
	if _, err := s.past.spells(gone, k, end.Add(-36*time.Hour), end); err == nil {
		t.Error("a day with a late reading was not screened anew")
	}
	if again := ask(); len(again["ph"]) != 2 {
		t.Errorf("screened anew: %v", again)
	}
	s.cfg.Store(&config.Config{Sites: []aquarium.Site{{ID: k.Site, Timezone: time.UTC, Tanks: []aquarium.Tank{{ID: k.Tank, Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.Number}}}}}}})
	if mended := ask(); len(mended) != 0 {
		t.Errorf("as plain numbers: %v, want no spells, for those may be anything", mended)
	}
}

// TestPastAnew: a day that was screened just after its end is screened once more
// when what follows it has come, and none is dropped before it was told of.
func TestPastAnew(t *testing.T) {
	s, k, end := daysOf(t, 3, []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}})
	clock := end.Time()
	s.now = func() time.Time { return clock }
	gone := spent{context.Background()}
	from := end.Add(-2 * pastDay)
	for _, c := range []struct {
		name  string
		ctx   context.Context // gone: only what is known can be told
		after time.Duration
		known bool
	}{
		{"first", context.Background(), 10 * time.Minute, true},
		{"again, soon", gone, 30 * time.Minute, true},
		{"again, when what follows has come", gone, lookAhead, false},
		{"and screened", context.Background(), lookAhead, true},
		{"for good", gone, pastDay, true},
	} {
		clock = end.Add(c.after).Time()
		got, err := s.past.spells(c.ctx, k, from, end)
		if known := err == nil; known != c.known || known && len(got["ph"]) != 2 {
			t.Errorf("%s: %v, %v; want known %v", c.name, got, err, c.known)
		}
	}
	if n := len(s.past.old); n != 2 {
		t.Errorf("%d days are kept, want 2", n)
	}
	for i := range pastDays - 2 {
		s.past.keep(tankDay{aquarium.TankKey{Site: k.Site, Tank: "lobby"}, end.Add(-time.Duration(i) * pastDay)}, nil, end)
	}
	if got, err := s.past.spells(context.Background(), k, from.Add(-pastDay), end); err != nil || len(got["ph"]) != 3 {
		t.Errorf("one day more than are kept: %v, %v; want three spells", got, err)
	}
	if n, m := len(s.past.old), len(s.past.days); n != pastDays || m != pastDays {
		t.Errorf("%d and %d days are kept, want %d", n, m, pastDays)
	}
}

// BenchmarkPast is what a day's chart costs the first time for its screening, a tank
// of twelve sensors at a reading each ten seconds and a fortnight before it, beside
// merely reading that day, and once the day is known.
func BenchmarkPast(b *testing.B) {
	var sensors []aquarium.Sensor
	for i, q := range []aquarium.Quantity{aquarium.PH, aquarium.Temperature, aquarium.Level, aquarium.Flow, aquarium.Flow, aquarium.Volume,
		aquarium.Level, aquarium.Conductivity, aquarium.Humidity, aquarium.Pressure, aquarium.Mass, aquarium.Gas} {
		sensors = append(sensors, aquarium.Sensor{ID: aquarium.SensorID(fmt.Sprintf("s%d", i)), Quantity: q})
	}
	s, k, end := daysOf(b, 22, sensors)
	from := end.Add(-pastDay)
	b.Run("read only", func(b *testing.B) {
		for b.Loop() {
			for _, c := range sensors {
				if err := s.store.Window(aquarium.SensorKey{Site: k.Site, Tank: k.Tank, Sensor: c.ID}, from, end, func(aquarium.Reading) bool { return true }); err != nil {
					b.Fatal(err)
				}
			}
		}
	})
	screened := func(from aquarium.Instant, known bool) func(b *testing.B) {
		return func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if !known {
					s.past.forget(k, 0)
				}
				if _, err := s.past.spells(context.Background(), k, from, end); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
	b.Run("screened", screened(from, false))
	b.Run("week screened", screened(end.Add(-7*pastDay), false))
	b.Run("known", screened(from, true))
}
