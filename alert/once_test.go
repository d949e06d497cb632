package alert

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// counting counts how often a watch was given each reading.
type counting struct {
	watch
	given map[reading]int
}

func (c *counting) Observe(s aquarium.Sample) {
	c.given[reading{s.Sensor, s.At}]++
	c.watch.Observe(s)
}

// A reading that a restart reads from the store and that is handed over
// afterwards reaches the watch once.
func TestNoReadingIsGivenTwice(t *testing.T) {
	inWorld(t, func(w *world) {
		var last *counting
		w.watch = func(s aquarium.Site) watch {
			last = &counting{newSimple(s), map[reading]int{}}
			return last
		}
		at := w.at().Add(-30 * time.Second)
		w.keepOnly("flow-a", at, 900)
		w.up()
		w.read("flow-a", at, 900)
		w.pass(time.Minute)
		if n := last.given[reading{sensor("flow-a"), at}]; n != 1 {
			t.Errorf("given %d times", n)
		}
	})
}

// What was committed and not taken before a crash is judged after it, though
// the mark has passed over it.
func TestCommittedNotTaken(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		for _, v := range []float64{0, 900} {
			w.pass(20 * time.Second)
			w.keepOnly("flow-a", w.at(), v)
		}
		w.pass(20 * time.Second)
		w.down()
		w.up()
		w.pass(time.Minute)
		if rs := w.records(); len(rs) != 1 {
			t.Errorf("got %d records, want 1", len(rs))
		}
	})
}

func TestMarkFollows(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		for range 5 {
			w.pass(73 * time.Second)
			var m mark
			err := w.ledger.View(func(tx ledger.Tx) error {
				_, err := tx.Get(shelfMarks, string(library), &m)
				return err
			})
			if lag := w.at().Sub(m.Judged); err != nil || lag > 75*time.Second {
				t.Errorf("the mark lies %s behind, %v; want at most a minute and a step", lag, err)
			}
		}
	})
}

// One person gets one message at a time, so that an all-clear never arrives
// before its alarm.
func TestOneAtATime(t *testing.T) {
	inWorld(t, func(w *world) {
		w.texts.delay = 14 * time.Second
		w.up()
		w.read("flow-a", w.at(), 0)
		w.pass(2 * time.Second)
		w.read("flow-a", w.at(), 900) // over while its text is still on the way
		w.pass(time.Minute)
		w.wantTexts("keeper", 2)
		if w.texts.most != 1 {
			t.Errorf("%d at once", w.texts.most)
		}
	})
}
