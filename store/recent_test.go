package store

import (
	"math/rand/v2"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/column"
	"lentic/store/record"
)

// TestRecentIsNeverOld: a day that is looked at again and again shows at once
// what has become of it, whichever way: appended, replaced, imported, sealed,
// forgotten. A second reader looks on all the time.
func TestRecentIsNeverOld(t *testing.T) {
	now := time.Date(2031, 3, 9, 0, 0, 0, 0, time.UTC)
	s, err := Open(filepath.Join(t.TempDir(), "lentic.db"), Options{Reserve: -1, Keep: 3 * 24 * time.Hour, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	k := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "ph"}
	other := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "water"}
	from := aquarium.At(now.Add(-48 * time.Hour))
	to := from.Add(24 * time.Hour)
	rnd := rand.New(rand.NewPCG(4, 4))
	want := map[aquarium.Instant]aquarium.Reading{}
	some := func() (b aquarium.Batch) {
		for range 1 + rnd.IntN(200) {
			r := aquarium.Reading{Sensor: k, At: from.Add(time.Duration(rnd.IntN(24*360)) * 10 * time.Second), Value: float64(rnd.IntN(900)) / 100, Unit: "pH"}
			b.Readings = append(b.Readings, r, aquarium.Reading{Sensor: other, At: r.At, Value: r.Value, Unit: "Cel"})
		}
		return b
	}
	stands := func(b aquarium.Batch, replace bool) aquarium.Batch {
		for _, r := range b.Readings {
			if _, ok := want[r.At]; r.Sensor == k && (replace || !ok) {
				want[r.At] = r
			}
		}
		return b
	}
	window := func(k aquarium.SensorKey) (rs []aquarium.Reading) {
		if err := s.Window(k, from, to, func(r aquarium.Reading) bool { rs = append(rs, r); return true }); err != nil {
			t.Error(err)
		}
		return rs
	}
	counted := func(k aquarium.SensorKey) (n int) {
		for _, width := range []time.Duration{time.Hour, 10 * time.Minute} {
			n = 0
			if err := s.Sums(k, from, to, width, func(x aquarium.Sum) bool { n += x.Good; return true }); err != nil {
				t.Error(err)
			}
		}
		return n
	}
	stop := make(chan struct{})
	var looking sync.WaitGroup
	looking.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
				window(k)
				window(other)
				counted(k)
			}
		}
	})
	for turn := range 150 {
		switch rnd.IntN(4) {
		case 0:
			_, err = s.Append(stands(some(), false), nil)
		case 1:
			_, err = s.Replace(stands(some(), true), nil)
		case 2:
			replace := rnd.IntN(2) == 0
			_, err = s.Import(replace, func(add func(aquarium.Batch) error) error { return add(stands(some(), replace)) })
		case 3:
			err = s.Seal()
		}
		if err != nil {
			t.Fatal(err)
		}
		got := window(k)
		for i, r := range got {
			if r != want[r.At] || i > 0 && r.At <= got[i-1].At {
				t.Fatalf("turn %d: got %v, want %v", turn, r, want[r.At])
			}
		}
		if len(got) != len(want) {
			t.Fatalf("turn %d: got %d readings, want %d", turn, len(got), len(want))
		}
		if n := counted(k); n != len(want) {
			t.Fatalf("turn %d: sums are of %d readings, want %d", turn, n, len(want))
		}
	}
	close(stop)
	looking.Wait()
	if err := s.Seal(); err != nil {
		t.Fatal(err)
	}
	window(k)
	window(other)
	if s.recent.size == 0 {
		t.Error("nothing is kept of what was read")
	}
	now = now.Add(10 * 24 * time.Hour)
	for more := true; more; {
		if more, err = s.Tidy(); err != nil {
			t.Fatal(err)
		}
	}
	if rs := window(k); len(rs) > 0 {
		t.Errorf("%d readings are shown that were forgotten", len(rs))
	}
	for key := range s.recent.values {
		if key.level == 0 {
			t.Error("a block is kept that was forgotten")
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := s.Window(k, from, to, func(aquarium.Reading) bool { return true }); err == nil {
		t.Error("a closed store gives readings")
	}
}

// TestRecentIsBounded: what is kept stays within its bound, what was used last
// stays, and columns with the same times keep them once.
func TestRecentIsBounded(t *testing.T) {
	var r recent
	const n = 4096
	times := make([]int64, n)
	rows := []record.Rollup{{Rows: make([]column.Row, 1440)}}
	key := func(i int) recentKey { return recentKey{0, 1, aquarium.Instant(i)} }
	for i := range 500 {
		r.columns(key(0), 1)
		for series := uint32(1); series <= 2; series++ {
			r.putColumns(r.now(), key(i), series, []record.Column{{Series: series, Times: times, Values: make([]float64, n)}}, make([]record.Print, 1))
		}
		r.putRows(r.now(), recentKey{2, 1, aquarium.Instant(i)}, 1, rows)
		size := 0
		for _, b := range r.values {
			size += b.size
		}
		if size != r.size || size > recentBytes {
			t.Fatalf("%d bytes are kept and %d counted, want at most %d", size, r.size, recentBytes)
		}
	}
	if want := 2 * recentBytes / (3*8*n + 48*1440 + 2<<10); len(r.values) < want {
		t.Errorf("%d values are kept, want at least %d", len(r.values), want)
	}
	if cols, ok := r.columns(key(0), 2); !ok || !slices.Equal(r.times(key(0), record.Print{}), cols[0].Times) {
		t.Error("what was used all the time is not kept")
	}
	since := r.now()
	r.written(0, record.BlockKey(7, 1))
	r.putColumns(since, key(7), 1, []record.Column{{Times: times}}, make([]record.Print, 1))
	if _, ok := r.columns(key(7), 1); ok {
		t.Error("what was read before a block was written is kept after it")
	}
}
