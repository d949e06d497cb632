package store_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
)

// plainSums is what Sums is to give, from the readings themselves. Their values
// are whole hundredths, and summed up as such.
func plainSums(rs []aquarium.Reading, from, to aquarium.Instant, width time.Duration, good func(aquarium.Reading) bool) []aquarium.Sum {
	var out []aquarium.Sum
	for _, r := range rs {
		if r.At < from || r.At >= to {
			continue
		}
		at := r.At.Floor(width)
		i := len(out) - 1
		for i >= 0 && out[i].At == at && out[i].Unit != r.Unit {
			i--
		}
		if i < 0 || out[i].At != at {
			i = len(out)
			out = append(out, aquarium.Sum{At: at, Unit: r.Unit})
		}
		s := &out[i]
		if good != nil && !good(r) {
			s.Others++
			continue
		}
		if s.Good == 0 {
			s.Min, s.Max = r.Value, r.Value
		}
		s.Min, s.Max = min(s.Min, r.Value), max(s.Max, r.Value)
		s.Good++
		s.Sum += math.Round(r.Value * 100)
	}
	for i := range out {
		out[i].Sum /= 100
	}
	slices.SortStableFunc(out, func(a, b aquarium.Sum) int { return int(a.At - b.At) })
	return out
}

func sums(t *testing.T, s *store.Store, k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration) []aquarium.Sum {
	t.Helper()
	var out []aquarium.Sum
	if err := s.Sums(k, from, to, width, func(x aquarium.Sum) bool { out = append(out, x); return true }); err != nil {
		t.Fatal(err)
	}
	return out
}

// sameSums compares the sums of one stretch in whatever order of their units.
func sameSums(got, want []aquarium.Sum) error {
	less := func(a, b aquarium.Sum) int {
		if a.At != b.At {
			return int(a.At - b.At)
		}
		if a.Unit < b.Unit {
			return -1
		}
		return 1
	}
	slices.SortFunc(got, less)
	slices.SortFunc(want, less)
	if len(got) != len(want) {
		return fmt.Errorf("got %d, want %d", len(got), len(want))
	}
	for i := range got {
		if got[i] != want[i] {
			return fmt.Errorf("at %s: got %+v, want %+v", want[i].At, got[i], want[i])
		}
	}
	return nil
}

// TestSumsAreThoseOfTheReadings: whatever of them is sealed, pending, late or
// replaced, and whichever stretches are asked for.
func TestSumsAreThoseOfTheReadings(t *testing.T) {
	good := func(r aquarium.Reading) bool { return r.Value < 9 }
	s, err := store.Open(filepath.Join(t.TempDir(), "lentic.db"), store.Options{Reserve: -1,
		Good: func(aquarium.SensorKey) func(float64, aquarium.Unit) bool {
			return func(v float64, _ aquarium.Unit) bool { return good(aquarium.Reading{Value: v}) }
		}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	rnd := rand.New(rand.NewPCG(3, 1))
	const days = 75 // more than one value of hours
	end := base.Add(days * 24 * time.Hour)
	some := func(n int, from, to aquarium.Instant) (b aquarium.Batch) {
		for range n {
			b.Readings = append(b.Readings, aquarium.Reading{
				Sensor: key(rnd.IntN(2)), At: from + aquarium.Instant(rnd.Int64N(int64(to-from))),
				Value: float64(rnd.IntN(1000)) / 100, Unit: []aquarium.Unit{"pH", "mV"}[rnd.IntN(20)/19],
			})
		}
		return b
	}
	for i, step := range []func() error{
		func() error {
			return s.Bulk(func(add func(aquarium.Batch) error) error { return add(some(40_000, base, end)) })
		},
		func() error { _, err := s.Append(some(500, end.Add(-30*time.Hour), end), nil); return err },
		s.Seal,
		func() error { _, err := s.Append(some(500, base, end), nil); return err },
		func() error { _, err := s.Replace(some(2000, end.Add(-time.Hour), end), nil); return err },
		s.Seal,
		func() error {
			_, err := s.Import(true, func(add func(aquarium.Batch) error) error { return add(some(5000, base, end)) })
			return err
		},
	} {
		if err := step(); err != nil {
			t.Fatal(err)
		}
		for n := range 2 {
			rs := all(t, s, key(n), base, end)
			for _, w := range []time.Duration{10 * time.Minute, 30 * time.Minute, time.Hour, 11 * time.Hour, 24 * time.Hour, 7 * 24 * time.Hour, time.Minute, 7 * time.Second,
				20*time.Minute + time.Millisecond, 47*time.Minute + time.Second, 39_420 * time.Second, 13*time.Hour + 7*time.Second, 9*24*time.Hour + time.Second} {
				from := base + aquarium.Instant(rnd.Int64N(int64(days*24*time.Hour/time.Millisecond)))
				to := min(end, from+aquarium.Instant(rnd.Int64N(int64(end-from)+1)))
				for _, r := range [][2]aquarium.Instant{{base, end}, {-1 << 60, 1 << 60}, {from, to}, {from.Floor(w), to.Floor(w)}} {
					if err := sameSums(sums(t, s, key(n), r[0], r[1], w), plainSums(rs, r[0], r[1], w, good)); err != nil {
						t.Fatalf("after step %d, sensor %d by %s from %s to %s: %v", i, n, w, r[0], r[1], err)
					}
				}
			}
		}
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}

// TestSumsOfWhatIsDamaged: damage of a block costs sums only where they need its
// readings, and then it is told; no sum is ever of more than there was, and one
// that lies beside the damage is whole.
func TestSumsOfWhatIsDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	s := open(t, path)
	const days = 20
	end := base.Add(days * 24 * time.Hour)
	rnd := rand.New(rand.NewPCG(8, 1))
	var b aquarium.Batch
	for at := base; at < end; at = at.Add(2 * time.Minute) {
		b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(0), At: at, Value: float64(rnd.IntN(1000)) / 100, Unit: "pH"})
	}
	if err := s.Bulk(func(add func(aquarium.Batch) error) error { return add(b) }); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	spoil(t, path, func(tx *bolt.Tx) {
		blocks := tx.Bucket([]byte("blocks"))
		damaged := map[string][]byte{}
		c := blocks.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if rnd.IntN(4) == 0 {
				damaged[string(k)] = bytes.Clone(v)
			}
		}
		for k, v := range damaged {
			v[rnd.IntN(len(v))] ^= 1 << rnd.IntN(8)
			if err := blocks.Put([]byte(k), v); err != nil {
				t.Fatal(err)
			}
		}
	})
	s = open(t, path)
	for round := range 2 {
		for _, w := range []time.Duration{time.Hour, 11 * time.Hour, 25 * time.Minute, 39_420 * time.Second, 13*time.Hour + 7*time.Second, time.Minute} {
			want := plainSums(b.Readings, base, end, w, nil)
			var got []aquarium.Sum
			err := s.Sums(key(0), base, end, w, func(x aquarium.Sum) bool { got = append(got, x); return true })
			var lost []*store.Damage
			for _, err := range unjoined(err) {
				var d *store.Damage
				if !errors.As(err, &d) || d.To == 0 {
					t.Fatalf("by %s: got error %v, want damage and when", w, err)
				}
				lost = append(lost, d)
			}
			if w%time.Hour == 0 && err != nil {
				t.Errorf("round %d: by %s: got %v, where no reading is needed", round, w, err)
			}
			for _, x := range want {
				hit := slices.ContainsFunc(lost, func(d *store.Damage) bool { return d.From < x.At.Add(w) && d.To > x.At })
				i := slices.IndexFunc(got, func(g aquarium.Sum) bool { return g.At == x.At })
				switch {
				case i < 0 && !hit || i >= 0 && !hit && got[i] != x:
					t.Fatalf("round %d: by %s at %s: got %v, want %+v", round, w, x.At, got, x)
				case i >= 0 && (got[i].Good > x.Good || got[i].Min < x.Min || got[i].Max > x.Max):
					t.Fatalf("round %d: by %s at %s: got %+v of %+v", round, w, x.At, got[i], x)
				}
			}
		}
		// The second time the damaged columns have been put aside.
		if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{{Sensor: key(1), At: base, Unit: "pH"}}}, nil); err != nil {
			t.Fatal(err)
		}
		if err := s.Seal(); err != nil {
			t.Fatal(err)
		}
	}
}

// unjoined are the errors that were joined to one.
func unjoined(err error) []error {
	if err == nil {
		return nil
	}
	return err.(interface{ Unwrap() []error }).Unwrap()
}

// TestForgetting: readings leave when they are old enough, their sums by the
// minute later, and those of ten minutes never; in small steps, and the file
// does not grow by it.
func TestForgetting(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	now := base.Time()
	s, err := store.Open(path, store.Options{
		Reserve: -1, Now: func() time.Time { return now }, Keep: 5 * 24 * time.Hour, KeepMinutes: 10 * 24 * time.Hour,
	})
	if err != nil {
		t.Fatal(err)
	}
	var rs []aquarium.Reading
	most := int64(0)
	for day := range 30 {
		for hour := range 24 {
			var b aquarium.Batch
			for second := 0; second < 3600; second += 30 {
				at := base.Add(time.Duration(day*24+hour)*time.Hour + time.Duration(second)*time.Second)
				for n := range 2 {
					b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(n), At: at, Value: float64((second + hour + n) % 700), Unit: "mm"})
				}
			}
			if _, err := s.Append(b, nil); err != nil {
				t.Fatal(err)
			}
			for _, r := range b.Readings {
				if r.Sensor == key(0) {
					rs = append(rs, r)
				}
			}
			now = now.Add(time.Hour)
			for more := true; more; {
				if more, err = s.Tidy(); err != nil {
					t.Fatal(err)
				}
			}
		}
		switch {
		case day < 20:
			most = s.Size()
		case s.Size() > most+most/20:
			t.Errorf("day %d: the file has grown from %d to %d bytes", day, most, s.Size())
		}
	}
	end := aquarium.At(now)
	raw := all(t, s, key(0), base, end)
	if got := end.Sub(raw[0].At); got < 5*24*time.Hour || got > 6*24*time.Hour {
		t.Errorf("readings are kept for %s, want five days and at most one more", got)
	}
	first, ok := s.First(key(0))
	if !ok || first != raw[0] {
		t.Errorf("first: got %v, want %v", first, raw[0])
	}
	for _, c := range []struct {
		width time.Duration
		from  aquarium.Instant
	}{
		{10 * time.Minute, base}, {time.Hour, base}, {24 * time.Hour, base.Floor(24 * time.Hour)},
		{time.Minute, end.Add(-9 * 24 * time.Hour)}, {2 * time.Minute, end.Add(-9*24*time.Hour + time.Second)},
	} {
		to := end.Floor(24 * time.Hour)
		want := plainSums(rs, c.from, to, c.width, nil)
		got := sums(t, s, key(0), c.from, to, c.width)
		if c.from.Floor(c.width) != c.from && len(got) > 0 && len(want) > 0 { // what begins within a row is gone
			got, want = got[1:], want[1:]
			if got[0].At < want[0].At {
				got = got[1:]
			}
		}
		if err := sameSums(got, want); err != nil {
			t.Errorf("sums by %s: %v", c.width, err)
		}
	}
	if got := sums(t, s, key(0), base, base.Add(10*24*time.Hour), time.Minute); len(got) != 0 {
		t.Errorf("%d sums by the minute are left of the first days", len(got))
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
	s.Close()
	spoil(t, path, func(tx *bolt.Tx) {
		if n := tx.DB().Stats().FreePageN; n > 100 {
			t.Errorf("%d free pages", n)
		}
	})
}

// TestForgottenIsNotLatest: what has been forgotten for its age is no sensor's
// latest reading, in the store that forgot it as in one that is opened anew.
func TestForgottenIsNotLatest(t *testing.T) {
	now := base.Time()
	path := filepath.Join(t.TempDir(), "lentic.db")
	reopen := func() *store.Store {
		s, err := store.Open(path, store.Options{Reserve: -1, Keep: 5 * 24 * time.Hour, Now: func() time.Time { return now }})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		return s
	}
	s := reopen()
	if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{{Sensor: key(0), At: base, Value: 1}}}, nil); err != nil {
		t.Fatal(err)
	}
	if _, ok := s.Latest(key(0)); !ok {
		t.Fatal("no latest reading of one")
	}
	now = now.Add(10 * 24 * time.Hour)
	for more := true; more; {
		var err error
		if more, err = s.Tidy(); err != nil {
			t.Fatal(err)
		}
	}
	for _, when := range []string{"at once", "opened again"} {
		if r, ok := s.Latest(key(0)); ok {
			t.Errorf("%s: the latest is %v, which was forgotten", when, r)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = reopen()
	}
}
