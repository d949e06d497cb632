package alert

import (
	"errors"
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// weekly is a simple watch that has learned of its tank once it was shown weeks.
type weekly struct {
	*simple
	oldest   aquarium.Instant
	recalled *int
	now      func() aquarium.Instant
}

func (w *weekly) Observe(s aquarium.Sample) {
	if w.oldest == 0 || s.At < w.oldest {
		w.oldest = s.At
	}
	w.simple.Observe(s)
}
func (w *weekly) Recall(*detect.Learned) { *w.recalled++ }
func (w *weekly) Learned() []*detect.Learned {
	through := w.now().Floor(24 * time.Hour)
	l := &detect.Learned{Tank: atrium, Through: through, Since: through}
	if w.oldest != 0 && w.oldest < through.Add(-10*24*time.Hour) {
		l.Since = w.oldest
	}
	return []*detect.Learned{l}
}

// weeks is slow up to when it was made, and has then what came.
type weeks struct {
	slow
	made aquarium.Instant
}

func (h weeks) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	if from < h.made {
		return errors.Join(h.slow.Window(k, from, min(to, h.made), fn), h.history.Window(k, h.made, max(to, h.made), fn))
	}
	return h.history.Window(k, from, to, fn)
}

// withWeeks is a desk over a store that holds weeks of readings, each of which takes
// a millisecond to read: nine seconds of a day, and two minutes of all.
func (w *world) withWeeks(recalled *int) {
	w.t.Helper()
	w.keepOnly("flow-a", w.at().Add(-20*24*time.Hour), 900)
	w.watch = func(s aquarium.Site) watch {
		return &weekly{simple: newSimple(s).(*simple), recalled: recalled, now: w.at}
	}
	w.upOver(weeks{slow{w.history}, w.at()})
}

// TestWatchesWhileLearning: a site of which nothing was learned is judged at once, its
// weeks are learned meanwhile, and then it is judged by a watch that knows them.
func TestWatchesWhileLearning(t *testing.T) {
	inWorld(t, func(w *world) {
		recalled := 0
		w.withWeeks(&recalled)
		w.pass(20 * time.Second)
		if _, ok := w.desk.Judged(library); !ok || !w.desk.Alive() || !w.desk.Learning(library) {
			t.Fatalf("after 20 s: judged %t, health %q, learning %t; want it judged, well and learning", ok, w.desk.Health(), w.desk.Learning(library))
		}
		w.flow(0) // whether that is told takes weeks to know
		w.wantTexts("keeper", 0)
		w.read("ph", w.at(), 2)
		w.pass(12 * time.Second)
		if a := w.one(); a.Cause != aquarium.PHLow {
			t.Errorf("while it learns: got %s, want %s", a.Cause, aquarium.PHLow)
		}
		w.wantTexts("keeper", 1)
		if recalled != 0 || !w.desk.Learning(library) {
			t.Fatalf("handed %d documents, learning %t; want none while it learns", recalled, w.desk.Learning(library))
		}
		w.pass(3 * time.Minute)
		if recalled != 1 || w.desk.Learning(library) || !w.desk.Alive() {
			t.Errorf("after three minutes: handed %d documents, learning %t, health %q; want 1, done and well", recalled, w.desk.Learning(library), w.desk.Health())
		}
		as, _ := w.desk.Alarms(Filter{Standing: true})
		told := map[aquarium.Cause]bool{}
		for _, a := range as {
			told[a.Cause] = true
		}
		if len(as) != 3 || !told[aquarium.FilterStalled] || !told[aquarium.PHProbeDrift] || !told[aquarium.PHLow] {
			t.Errorf("once it knows: got %d alarms of %v, want those that waited too", len(as), told)
		}
	})
}

// TestLearnsAgainAfterStop: what a watch that knows a day has learned is not taken for
// the weeks, however it ends.
func TestLearnsAgainAfterStop(t *testing.T) {
	inWorld(t, func(w *world) {
		recalled := 0
		w.withWeeks(&recalled)
		w.pass(90 * time.Second) // marks were written
		w.down()
		w.upOver(weeks{slow{w.history}, w.at()})
		w.pass(20 * time.Second)
		if recalled != 0 || !w.desk.Learning(library) {
			t.Fatalf("the second start: handed %d documents, learning %t; want it to learn", recalled, w.desk.Learning(library))
		}
		w.pass(3 * time.Minute)
		if recalled != 1 || w.desk.Learning(library) {
			t.Errorf("handed %d documents, learning %t; want those of its weeks", recalled, w.desk.Learning(library))
		}
	})
}

// TestWeeksBeforeWhatStands: an alarm that stands is not left to a watch that may end
// it for not knowing better.
func TestWeeksBeforeWhatStands(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		w.one()
		w.down()
		recalled := 0
		w.withWeeks(&recalled)
		w.pass(20 * time.Second)
		if _, ok := w.desk.Judged(library); ok || w.desk.Learning(library) {
			t.Errorf("judged %t, learning beside it %t; want neither", ok, w.desk.Learning(library))
		}
	})
}

// TestConfiguredWhileLearning: weeks that were learned as of another configuration are
// learned once more.
func TestConfiguredWhileLearning(t *testing.T) {
	inWorld(t, func(w *world) {
		recalled := 0
		w.withWeeks(&recalled)
		w.pass(20 * time.Second)
		s := setup()
		s.Sites[0].Name = "Quillmere Library, east"
		if err := w.desk.Configure(s); err != nil {
			t.Fatal(err)
		}
		w.pass(2 * time.Minute) // the first would be done
		if recalled != 0 || !w.desk.Learning(library) {
			t.Errorf("handed %d documents, learning %t; want it to learn once more", recalled, w.desk.Learning(library))
		}
		w.pass(4 * time.Minute)
		if recalled != 1 || w.desk.Learning(library) {
			t.Errorf("handed %d documents, learning %t; want those of the new configuration", recalled, w.desk.Learning(library))
		}
	})
}

// arriving is weeks from when they are here, and before that what came.
type arriving struct {
	weeks
	here *bool
}

func (h arriving) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	if *h.here {
		return h.weeks.Window(k, from, to, fn)
	}
	return h.history.Window(k, from, to, fn)
}

// TestLearnsWhatIsImported: weeks that come into a store of which a day was learned are
// learned beside the judging, all of which goes on, and once.
func TestLearnsWhatIsImported(t *testing.T) {
	for _, c := range []struct {
		name string
		how  func(w *world, h History)
	}{
		{"beside the daemon", func(w *world, _ History) { w.desk.Imported() }},
		{"while it was stopped", func(w *world, h History) { w.down(); w.upOver(h) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			inWorld(t, func(w *world) {
				recalled, here := 0, false
				w.keepOnly("flow-a", w.at().Add(-time.Minute), 900)
				w.watch = func(s aquarium.Site) watch {
					return &weekly{simple: newSimple(s).(*simple), recalled: &recalled, now: w.at}
				}
				h := arriving{weeks{slow{w.history}, w.at()}, &here}
				w.upOver(h)
				w.pass(90 * time.Second) // the day's document was written
				w.desk.Imported()        // nothing older than that
				w.pass(5 * time.Minute)
				if recalled != 0 {
					t.Fatalf("handed %d documents, want none: nothing was imported", recalled)
				}
				here = true
				c.how(w, h)
				before := recalled
				w.pass(20 * time.Second)
				w.flow(0) // it takes weeks to know, and it is known
				if a := w.one(); a.Cause != aquarium.FilterStalled || w.desk.Learning(library) {
					t.Errorf("meanwhile: got %s, learning %t; want it told as always", a.Cause, w.desk.Learning(library))
				}
				w.pass(5 * time.Minute)
				if recalled != before+1 {
					t.Errorf("handed %d documents after %d, want one more: that of the weeks", recalled, before)
				}
				ls, err := w.desk.learnedOf(library)
				if err != nil || len(ls) != 1 || w.at().Sub(ls[0].Since) < 10*24*time.Hour {
					t.Errorf("learned %+v, %v; want that of the weeks", ls, err)
				}
				w.one()
				w.desk.Imported() // the same file again
				w.pass(5 * time.Minute)
				if recalled != before+1 {
					t.Errorf("handed %d documents after %d, want no more: it knows them", recalled, before)
				}
			})
		})
	}
}
