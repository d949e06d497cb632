package proof

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// A child process does a piece of work on a database, and acknowledges each of
// its steps in a file beside it. It is this test's own binary, started again.
const (
	childDir   = "LENTIC_PROOF_DIR"
	childSteps = "LENTIC_PROOF_STEPS"
	childLimit = "LENTIC_PROOF_LIMIT" // bytes that a file may grow to
	// childFailed is how it ends when a step failed.
	childFailed = 74
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		steps, _ := strconv.Atoi(os.Getenv(childSteps))
		os.Exit(child(dir, steps))
	}
	os.Exit(m.Run())
}

// task is one step of the work: the same for the same number.
type task struct {
	n        int
	kind     string // append, replace, import, seal, tidy, document
	readings []aquarium.Reading
}

// tasks is the work. Readings of all steps are at times of their own, so what
// is found tells which steps are there; a replaced value is told by itself.
func tasks(steps int) []task {
	rnd := rand.New(rand.NewPCG(6, 6))
	var ts []task
	for n := range steps {
		t := task{n: n}
		switch k := rnd.IntN(20); {
		case k < 11:
			t.kind = "append"
		case k < 13:
			t.kind = "import"
		case k < 14:
			t.kind = "seal"
		case k < 16:
			t.kind = "tidy"
		case k < 18:
			t.kind = "document"
		default:
			t.kind = "replace"
		}
		switch t.kind {
		case "append", "import":
			many := 1 + rnd.IntN(40)
			if rnd.IntN(6) == 0 {
				many *= 50
			}
			for i := range many {
				t.readings = append(t.readings, aquarium.Reading{
					Sensor: sensors[i%len(sensors)], At: base.Add(time.Duration(n)*20*time.Minute) + aquarium.Instant(i), Value: float64(n) + float64(i%100)/100, Unit: "pH",
				})
			}
		case "replace":
			for _, old := range ts {
				if old.kind == "append" && rnd.IntN(3) == 0 {
					for _, r := range old.readings[:1] {
						r.Value = -float64(n)
						t.readings = append(t.readings, r)
					}
				}
			}
		}
		ts = append(ts, t)
	}
	return ts
}

// do does the step.
func (t task) do(s *store.Store) error {
	b := aquarium.Batch{Readings: t.readings, Arrived: base}
	switch t.kind {
	case "append":
		_, err := s.Append(b, func(tx ledger.Tx, _ aquarium.Outcome) error { return tx.Put("marks", "step", t.n) })
		return err
	case "replace":
		_, err := s.Replace(b, nil)
		return err
	case "import":
		return s.Bulk(func(add func(aquarium.Batch) error) error { return add(b) })
	case "seal":
		return s.Seal()
	case "tidy":
		_, err := s.Tidy()
		return err
	}
	return s.Update(func(tx ledger.Tx) error { return tx.Put("alarms", "step", t.n) })
}

// child does the work in a folder and acknowledges each step in the file acks.
// It stays on one thread, for a fault is counted by thread.
func child(dir string, steps int) int {
	runtime.LockOSThread()
	if limit, err := strconv.ParseUint(os.Getenv(childLimit), 10, 64); err == nil {
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: limit, Max: limit}); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	acks, err := os.OpenFile(filepath.Join(dir, "acks"), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	s, err := store.Open(filepath.Join(dir, "lentic.db"), workOptions())
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return childFailed
	}
	for _, t := range tasks(steps) {
		if err := t.do(s); err != nil {
			fmt.Fprintln(os.Stderr, t.n, t.kind, err)
			return childFailed
		}
		if _, err := fmt.Fprintf(acks, "ack %d\n", t.n); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	if err := s.Close(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return childFailed
	}
	return 0
}

// workOptions let every stretch be over, so that Tidy finds work.
func workOptions() store.Options {
	now := base.Add(60 * 24 * time.Hour)
	return store.Options{Reserve: -1, Keep: -1, Now: func() time.Time {
		now = now.Add(10 * time.Second) // each look is later: what was touched grows quiet
		return now.Time()
	}}
}

// verify opens the database and wants all of the first acked steps there, and
// beside them nothing but what the step after may have brought.
func verify(path string, ts []task, acked int) error {
	s, err := store.Open(path, workOptions())
	if err != nil {
		return fmt.Errorf("open: %w", err)
	}
	defer s.Close()
	type place struct {
		k  aquarium.SensorKey
		at aquarium.Instant
	}
	must, may := map[place]float64{}, map[place][]float64{}
	for _, t := range ts[:min(acked+1, len(ts))] {
		for _, r := range t.readings {
			p := place{r.Sensor, r.At}
			if t.n < acked {
				must[p] = r.Value
			} else {
				may[p] = append(may[p], r.Value)
			}
		}
	}
	inFlight := 0
	for _, k := range sensors {
		var wrong error
		err := s.Window(k, 0, base*2, func(r aquarium.Reading) bool {
			p := place{k, r.At}
			v, ok := must[p]
			delete(must, p)
			if ok && v == r.Value {
				return true
			}
			for _, v := range may[p] {
				if v == r.Value {
					inFlight++
					return true
				}
			}
			wrong = fmt.Errorf("%s at %s is %v: nobody wrote that", k, r.At, r.Value)
			return false
		})
		if err != nil {
			return fmt.Errorf("window: %w", err)
		}
		if wrong != nil {
			return wrong
		}
	}
	if len(must) > 0 {
		for p, v := range must {
			return fmt.Errorf("%d acknowledged readings are missing, as %v of %s at %s", len(must), v, p.k, p.at)
		}
	}
	if acked < len(ts) && ts[acked].kind == "append" && inFlight != 0 && inFlight != len(ts[acked].readings) {
		return fmt.Errorf("%d of %d readings of one batch", inFlight, len(ts[acked].readings))
	}
	if err := verifyDocuments(s, ts, acked); err != nil {
		return err
	}
	if err := s.Check(); err != nil {
		return fmt.Errorf("check: %w", err)
	}
	return nil
}

// verifyDocuments wants the documents of the last acknowledged steps, or of the
// one after.
func verifyDocuments(s *store.Store, ts []task, acked int) error {
	return s.View(func(tx ledger.Tx) error {
		for shelf, kind := range map[string]string{"marks": "append", "alarms": "document"} {
			want, next := -1, -1
			for _, t := range ts[:min(acked+1, len(ts))] {
				if t.kind == kind && t.n < acked {
					want = t.n
				}
				if t.kind == kind {
					next = t.n
				}
			}
			got := -1
			if _, err := tx.Get(shelf, "step", &got); err != nil {
				return err
			}
			if got != want && got != next {
				return fmt.Errorf("document of %s is from step %d, want %d or %d", shelf, got, want, next)
			}
		}
		return nil
	})
}

func openNew(path string) (*store.Store, error) { return store.Open(path, workOptions()) }
