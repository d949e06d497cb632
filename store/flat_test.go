package store

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestFlat writes five days of twenty tanks as it would come in, and wants few
// pages free at any time: bbolt writes the list of them at every commit.
func TestFlat(t *testing.T) {
	now := time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC)
	s, err := Open(filepath.Join(t.TempDir(), "lentic.db"), Options{Reserve: -1, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	s.db.NoSync, s.db.NoGrowSync = true, true // what is on disk is not what is asked here
	rnd := rand.New(rand.NewPCG(4, 2))
	most := 0
	var b aquarium.Batch
	for range 5 * 24 * 6 {
		b.Readings = b.Readings[:0]
		for minute := range 10 {
			for n := range 20 * 12 {
				b.Readings = append(b.Readings, aquarium.Reading{
					Sensor: aquarium.SensorKey{Site: "quillmere-library", Tank: aquarium.TankID(fmt.Sprint("tank-", n/12)), Sensor: aquarium.SensorID(fmt.Sprint("n", n%12))},
					At:     aquarium.At(now.Add(time.Duration(minute) * time.Minute)), Value: float64(1000 + rnd.IntN(30)), Unit: "l/h",
				})
			}
		}
		if _, err := s.Append(b, nil); err != nil {
			t.Fatal(err)
		}
		now = now.Add(10 * time.Minute)
		for more := true; more; {
			if more, err = s.Tidy(); err != nil {
				t.Fatal(err)
			}
			st := s.db.Stats()
			most = max(most, st.FreePageN+st.PendingPageN)
		}
	}
	f, err := s.Inspect(t.Context(), nil)
	if err != nil || f.Err() != nil {
		t.Fatal(err, f.Err())
	}
	if blocks := f.Blocks; blocks < 5*2*20-60 {
		t.Errorf("%d blocks, want some %d", blocks, 5*2*20)
	}
	if most >= 100 {
		t.Errorf("%d pages were free, want less than 100", most)
	}
}

// TestFlatForgetting writes on for days after readings have begun to be
// forgotten, and wants the file to stay as it was then: the log no longer than
// what counts of it, and what is forgotten written over.
func TestFlatForgetting(t *testing.T) {
	now := time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC)
	path := filepath.Join(t.TempDir(), "lentic.db")
	s, err := Open(path, Options{Reserve: -1, Now: func() time.Time { return now }, Keep: 3 * day, KeepMinutes: 6 * day})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	s.db.NoSync, s.db.NoGrowSync = true, true
	rnd := rand.New(rand.NewPCG(4, 2))
	var b aquarium.Batch
	most, settled := 0, int64(0)
	for hour := range 24 * 24 {
		for range 12 { // a commit each five minutes
			b.Readings = b.Readings[:0]
			for range 10 { // every half minute
				for n := range 6 * 12 {
					b.Readings = append(b.Readings, aquarium.Reading{
						Sensor: aquarium.SensorKey{Site: "quillmere-library", Tank: aquarium.TankID(fmt.Sprint("tank-", n/12)), Sensor: aquarium.SensorID(fmt.Sprint("n", n%12))},
						At:     aquarium.At(now), Value: float64(1000 + rnd.IntN(1000)), Unit: "l/h",
					})
				}
				now = now.Add(30 * time.Second)
			}
			if _, err := s.Append(b, nil); err != nil {
				t.Fatal(err)
			}
			for more := true; more; {
				if more, err = s.Tidy(); err != nil {
					t.Fatal(err)
				}
				if hour > 8*24 {
					most = max(most, s.freePages())
				}
			}
			if first, last, _ := s.logged(); last-first > logMost*(last-s.logNeeded())+logFew+trimmed {
				t.Fatalf("after %d hours the log has %d records, and %d of them count", hour, last-first, last-s.logNeeded())
			}
		}
		info, err := os.Stat(path)
		switch {
		case err != nil:
			t.Fatal(err)
		case hour == 9*24:
			settled = info.Size()
		case hour == 24*24-1 && info.Size() > settled+15*20*4096: // sums kept for ever make thirteen pages a day of it, and a page more or less is chance
			t.Errorf("from day 9 to day 24 the file grew from %d bytes to %d", settled, info.Size())
		case hour == 24*24-1:
			t.Logf("%d bytes, %d after fifteen days more; %d pages were free at most", settled, info.Size(), most)
		}
	}
	// Two blocks forgotten at once are some forty pages here, which the log may break up.
	if most >= 300 {
		t.Errorf("%d pages were free, want less than 300", most)
	}
}

// TestLearn: after Seal and a start a series' last block is not over. The first
// reading that comes is compared with it, and those after it need not be.
func TestLearn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	k := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "ph"}
	at := aquarium.At(time.Date(2031, 3, 2, 1, 0, 0, 0, time.UTC))
	reading := func(minute int, v float64) aquarium.Batch {
		return aquarium.Batch{Readings: []aquarium.Reading{{Sensor: k, At: at.Add(time.Duration(minute) * time.Minute), Value: v, Unit: "pH"}}}
	}
	s, err := Open(path, Options{Reserve: -1})
	if err != nil {
		t.Fatal(err)
	}
	for minute := range 10 {
		if _, err := s.Append(reading(minute, 7), nil); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if s, err = Open(path, Options{Reserve: -1}); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, x := range []struct {
		name   string
		batch  aquarium.Batch
		want   aquarium.Outcome
		newest int // minute
	}{
		{"what is there", reading(9, 7), aquarium.Outcome{Repeats: 1}, 9},
		{"another value", reading(4, 8), aquarium.Outcome{Conflicts: 1}, 9},
		{"the next", reading(10, 7), aquarium.Outcome{Fresh: reading(10, 7).Readings}, 10},
		{"late", reading(-5, 7), aquarium.Outcome{Fresh: reading(-5, 7).Readings}, 10},
	} {
		got, err := s.Append(x.batch, nil)
		if err != nil || len(got.Fresh) != len(x.want.Fresh) || got.Repeats != x.want.Repeats || got.Conflicts != x.want.Conflicts {
			t.Errorf("%s: got %+v, %v, want %+v", x.name, got, err, x.want)
		}
		if is := s.catalogue.series[k]; !is.known || is.newest() != at.Add(time.Duration(x.newest)*time.Minute) {
			t.Errorf("%s: the newest is %s, known %v, want minute %d", x.name, is.newest(), is.known, x.newest)
		}
	}
}
