package store_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// TestLanded writes batches so large that they are put where they belong only
// while the next is written, among late ones, sealing and starts, while others
// look: whoever asks after a commit sees all of it.
func TestLanded(t *testing.T) {
	for seed := range uint64(2) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			rnd := rand.New(rand.NewPCG(seed, 11))
			path := filepath.Join(t.TempDir(), "lentic.db")
			s := open(t, path)
			w := landing{t: t, rnd: rnd, at: base, want: map[aquarium.SensorKey][]aquarium.Reading{}}
			for range 40 {
				switch rnd.IntN(8) {
				case 0:
					if err := s.Seal(); err != nil {
						t.Fatal(err)
					}
				case 1:
					if err := s.Close(); err != nil {
						t.Fatal(err)
					}
					s = open(t, path)
				case 2:
					w.late(s)
				case 3:
					w.large(s)
					w.undone(s)
					w.again(s)
				default:
					w.large(s)
				}
				w.look(s)
			}
		})
	}
}

// landing is what was written.
type landing struct {
	t    *testing.T
	rnd  *rand.Rand
	at   aquarium.Instant
	last []aquarium.Reading                        // that large wrote
	want map[aquarium.SensorKey][]aquarium.Reading // rising in time
}

// batch is some turns of forty sensors.
func (w *landing) batch() (b aquarium.Batch) {
	for range 1 + w.rnd.IntN(20) {
		w.at = w.at.Add(time.Duration(1+w.rnd.IntN(900)) * time.Second)
		for n := range 40 {
			b.Readings = append(b.Readings, aquarium.Reading{Sensor: key(n), At: w.at + aquarium.Instant(n), Value: float64(w.rnd.IntN(900)) / 100, Unit: "pH"})
		}
	}
	return b
}

// undone appends what is undone by its hook.
func (w *landing) undone(s *store.Store) {
	no := errors.New("no")
	if _, err := s.Append(w.batch(), func(ledger.Tx, aquarium.Outcome) error { return no }); !errors.Is(err, no) {
		w.t.Fatalf("got %v, want the hook's error", err)
	}
}

// large appends while somebody looks.
func (w *landing) large(s *store.Store) {
	b := w.batch()
	for _, r := range b.Readings {
		w.want[r.Sensor] = append(w.want[r.Sensor], r)
	}
	var looking sync.WaitGroup
	looking.Go(func() { s.Latest(key(1)) })
	out, err := s.Append(b, nil)
	looking.Wait()
	if err != nil || len(out.Fresh) != len(b.Readings) {
		w.t.Fatalf("%d of %d stored, %v", len(out.Fresh), len(b.Readings), err)
	}
	w.last = slices.Clone(b.Readings)
	clear(b.Readings) // it is the caller's again
}

// again appends what large did.
func (w *landing) again(s *store.Store) {
	out, err := s.Append(aquarium.Batch{Readings: w.last}, nil)
	if err != nil || out.Repeats != len(w.last) {
		w.t.Fatalf("%d of %d repeats, %v", out.Repeats, len(w.last), err)
	}
}

// late appends readings that lie before others, and repeats.
func (w *landing) late(s *store.Store) {
	var b aquarium.Batch
	repeats := 0
	for range w.rnd.IntN(50) {
		k := key(w.rnd.IntN(40))
		have := w.want[k]
		if len(have) == 0 {
			continue
		}
		i := w.rnd.IntN(len(have))
		r := have[i]
		if w.rnd.IntN(2) == 0 {
			repeats++
		} else if r.At -= 500; i > 0 && have[i-1].At >= r.At {
			continue
		} else {
			w.want[k] = slices.Insert(have, i, r)
		}
		b.Readings = append(b.Readings, r)
	}
	out, err := s.Append(b, nil)
	if err != nil || out.Repeats != repeats || out.Conflicts > 0 {
		w.t.Fatalf("%d readings: %d repeats, want %d; %d conflicts; %v", len(b.Readings), out.Repeats, repeats, out.Conflicts, err)
	}
}

// look asks for one sensor, or not.
func (w *landing) look(s *store.Store) {
	k := key(w.rnd.IntN(40))
	want := w.want[k]
	switch {
	case len(want) == 0 || w.rnd.IntN(2) == 0:
	case w.rnd.IntN(2) == 0:
		if got, ok := s.Latest(k); !ok || got != want[len(want)-1] {
			w.t.Fatalf("latest of %s: got %v, %v; want %v", k, got, ok, want[len(want)-1])
		}
	default:
		var got []aquarium.Reading
		err := s.Window(k, 0, w.at.Add(time.Hour), func(r aquarium.Reading) bool {
			got = append(got, r)
			return true
		})
		if err != nil || !slices.Equal(got, want) {
			w.t.Fatalf("%s: got %d readings, %v; want %d, or they differ", k, len(got), err, len(want))
		}
	}
}
