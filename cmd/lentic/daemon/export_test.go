package daemon

import (
	"context"
	"errors"
	"runtime"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestExportOfAYear: a year of a sensor at ten seconds is written without being
// held, and nothing more is read once whoever reads it is gone.
func TestExportOfAYear(t *testing.T) {
	s := importInto(t, t.TempDir())
	from := aquarium.At(time.Now().Add(-365 * 24 * time.Hour).Truncate(time.Hour))
	key := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "n0"}
	const rows = 365 * 8640
	_, err := s.store.Import(false, func(add func(aquarium.Batch) error) error {
		rs := make([]aquarium.Reading, 0, importBatch)
		for i := range rows {
			rs = append(rs, aquarium.Reading{Sensor: key, At: from.Add(time.Duration(i) * 10 * time.Second), Value: float64(i%500) / 10, Unit: "mm"})
			if len(rs) == cap(rs) || i == rows-1 {
				if err := add(aquarium.Batch{Readings: rs}); err != nil {
					return err
				}
				rs = rs[:0]
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	args := ExportArgs{Site: key.Site, Tank: key.Tank, Sensor: key.Sensor, From: from, To: from.Add(366 * 24 * time.Hour)}
	w := &watchingWriter{least: heap()}
	if err := export(context.Background(), s, args, w); err != nil || w.lines != rows+1 {
		t.Fatalf("%d lines, want %d: %v", w.lines, rows+1, err)
	}
	held := int64(w.most) - int64(w.least)
	t.Logf("%d MiB written, at most %d KiB held", w.n>>20, held>>10)
	if held > 16<<20 {
		t.Errorf("%d MiB are held", held>>20)
	}
	gone := &watchingWriter{limit: 1 << 20}
	begun := time.Now()
	if err := export(context.Background(), s, args, gone); !errors.Is(err, errGone) {
		t.Errorf("the reader is gone: %v", err)
	}
	if took := time.Since(begun); took > 2*time.Second {
		t.Errorf("it went on for %s", took)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	none := &watchingWriter{}
	if err := export(ctx, s, args, none); !errors.Is(err, context.Canceled) || none.n > 64<<10 {
		t.Errorf("given up: %d bytes written, %v", none.n, err)
	}
}

var errGone = errors.New("gone")

// watchingWriter counts what it gets and looks how much is held meanwhile.
type watchingWriter struct {
	n, limit    int
	lines       int
	least, most uint64
}

func (w *watchingWriter) Write(b []byte) (int, error) {
	if w.limit > 0 && w.n > w.limit {
		return 0, errGone
	}
	before := w.n >> 23
	w.n += len(b)
	for _, c := range b {
		if c == '\n' {
			w.lines++
		}
	}
	if w.n>>23 != before {
		w.most = max(w.most, heap())
	}
	return len(b), nil
}

// heap is how many bytes are in use.
func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
