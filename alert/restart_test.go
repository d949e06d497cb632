package alert

import (
	"context"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// records lists alarms kept for the record only.
func (w *world) records() []aquarium.Alarm {
	w.t.Helper()
	as, err := w.desk.Alarms(Filter{})
	if err != nil {
		w.t.Fatal(err)
	}
	var rs []aquarium.Alarm
	for _, a := range as {
		if a.Record {
			rs = append(rs, a)
		}
	}
	return rs
}

// keepOnly stores a reading that nobody looks at: it came while the desk was
// down.
func (w *world) keepOnly(id aquarium.SensorID, at aquarium.Instant, v float64) {
	w.history.put(aquarium.Reading{Sensor: sensor(id), At: at, Value: v})
}

func TestFirstStartTellsOnlyWhatStands(t *testing.T) {
	inWorld(t, func(w *world) {
		for h := 20; h > 0; h-- { // stalled and recovered each hour, long ago
			w.keepOnly("flow-a", w.at().Add(-time.Duration(h)*time.Hour), float64(h%2)*900)
		}
		w.keepOnly("flow-a", w.at().Add(-30*time.Minute), 900)
		w.keepOnly("flow-b", w.at().Add(-30*time.Minute), 0)
		w.up()
		w.pass(12 * time.Second)
		if a := w.one(); a.Equipment != "b" {
			t.Errorf("got %+v", a)
		}
		if rs := w.records(); len(rs) != 0 {
			t.Errorf("got %d records of a time before lentic, want none", len(rs))
		}
	})
}

// slow is a history of a reading every ten seconds, each of which takes a
// millisecond to read.
type slow struct{ *history }

func (s slow) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	for at := from; at < to; at = at.Add(10 * time.Second) {
		time.Sleep(time.Millisecond)
		if !fn(aquarium.Reading{Sensor: k, At: at, Value: 900, Unit: "l/h"}) {
			break
		}
	}
	return nil
}

// TestStopWhileLearning: weeks of stored readings take minutes to learn from, and
// whoever stops lentic meanwhile does not wait for that.
func TestStopWhileLearning(t *testing.T) {
	inWorld(t, func(w *world) {
		w.keepOnly("flow-a", w.at().Add(-20*24*time.Hour), 900)
		d, err := New(Options{Setup: w.setup, History: slow{w.history}, Ledger: w.ledger, Now: w.now, watch: w.watch})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		done := make(chan error, 1)
		go func() { done <- d.Run(ctx) }()
		time.Sleep(20 * time.Second)
		cancel()
		at := time.Now()
		if err := <-done; err != nil {
			t.Errorf("stop: %v", err)
		}
		if took := time.Since(at); took > 5*time.Second {
			t.Errorf("stopped after %s, want 5s at most", took)
		}
		w.up()
		w.flow(0)
		w.one()
	})
}

func TestRestartMidAlarm(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		id := w.one().ID
		w.wantTexts("keeper", 1)
		w.down()
		w.pass(5 * time.Minute)
		w.up()
		w.pass(time.Minute)
		if a := w.one(); a.ID != id || a.State != aquarium.Unacknowledged {
			t.Errorf("got %+v, want alarm %s as it was", a, id)
		}
		w.wantTexts("keeper", 1) // nothing new
		w.pass(5 * time.Minute)
		w.wantTexts("deputy", 1) // the ladder went on from the raise
		es := w.desk.Journal("", "", 0, 0)
		if len(es) != 1 || es[0].Kind != aquarium.Deaf || es[0].Until.Sub(es[0].At) < 5*time.Minute {
			t.Errorf("journal: got %+v, want the time lentic did not run", es)
		}
		w.down()
		w.keepOnly("flow-a", w.at(), 900)
		w.up()
		w.pass(time.Minute)
		if a := w.one(); a.ID != id || a.State != aquarium.ReturnedUnacknowledged {
			t.Errorf("got %+v, want it returned", a)
		}
		w.wantTexts("keeper", 2)
		w.wantTexts("deputy", 2)
	})
}

func TestDowntimeIsJudged(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		w.down()
		w.pass(time.Hour)
		w.keepOnly("flow-a", w.at().Add(-50*time.Minute), 0) // over before anyone knew
		w.keepOnly("flow-a", w.at().Add(-40*time.Minute), 900)
		w.keepOnly("flow-b", w.at().Add(-20*time.Minute), 0) // still so
		w.up()
		w.pass(12 * time.Second)
		if a := w.one(); a.Equipment != "b" {
			t.Errorf("standing: got %+v", a)
		}
		rs := w.records()
		if len(rs) != 1 || rs[0].Equipment != "a" || rs[0].Returned.Sub(rs[0].Raised) != 10*time.Minute {
			t.Errorf("record: got %+v", rs)
		}
		w.wantTexts("keeper", 1)
		w.down()
		w.up()
		w.pass(time.Minute)
		if rs := w.records(); len(rs) != 1 {
			t.Errorf("after another restart: got %d records, want 1", len(rs))
		}
	})
}

func TestLateBatch(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		w.pass(3 * time.Hour)
		start := w.at().Add(-150 * time.Minute)
		for m := range 120 { // buffered for two hours, stalled for ten minutes of them
			v := 900.0
			if m >= 30 && m < 40 {
				v = 0
			}
			w.read("flow-a", start.Add(time.Duration(m)*time.Minute), v)
			w.pass(time.Second)
		}
		w.pass(time.Minute)
		rs := w.records()
		if len(rs) != 1 || rs[0].Returned.Sub(rs[0].Raised) != 10*time.Minute || rs[0].State != aquarium.Normal {
			t.Errorf("record: got %+v", rs)
		}
		w.wantTexts("keeper", 0)
		w.read("flow-b", start, 900) // another, whose newest still says stalled
		w.read("flow-b", start.Add(time.Hour), 0)
		w.pass(time.Minute)
		if a := w.one(); a.Equipment != "b" || a.Record {
			t.Errorf("standing: got %+v", a)
		}
		if rs := w.records(); len(rs) != 1 {
			t.Errorf("got %d records, want the one", len(rs))
		}
	})
}

// A reading stored but never taken, at or before the mark, is judged at the
// next start.
func TestNotedReadingIsJudgedAfterACrash(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		w.pass(3 * time.Hour)
		late := aquarium.Reading{Sensor: sensor("flow-a"), At: w.at().Add(-2 * time.Hour), Value: 0}
		good := aquarium.Reading{Sensor: sensor("flow-a"), At: w.at().Add(-time.Hour), Value: 900}
		for _, r := range []aquarium.Reading{late, good} {
			w.history.put(r)
			err := w.ledger.Update(noted(w.desk, w.at(), r))
			if err != nil {
				t.Fatal(err)
			}
		}
		w.ledger.fail = 1 // the process dies here: no last mark
		w.down()
		w.ledger.fail = 0
		w.up()
		w.pass(time.Minute)
		if rs := w.records(); len(rs) != 1 || rs[0].Returned.Sub(rs[0].Raised) != time.Hour {
			t.Errorf("record: got %+v, want the hour that was stored", rs)
		}
		w.pass(5 * time.Minute)
		var left int
		if err := w.ledger.View(countShelf(shelfUnjudged, &left)); err != nil || left != 0 {
			t.Errorf("unjudged: %d left, %v", left, err)
		}
	})
}

func TestOutOfOrderIsJudgedWithTheNextTick(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		w.pass(time.Minute)
		w.read("flow-a", w.at().Add(-20*time.Second), 0)
		w.pass(12 * time.Second)
		if a := w.one(); a.State != aquarium.Unacknowledged {
			t.Errorf("got %+v", a)
		}
	})
}

func TestClockJumps(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		w.skew.Add(int64(25 * time.Hour)) // forward
		w.pass(30 * time.Second)
		es := w.desk.Journal("", "", 0, 0)
		if len(es) != 1 || es[0].Kind != aquarium.Deaf {
			t.Errorf("forward: got %+v, want the gap in the journal", es)
		}
		w.flow(0)
		if w.one().State != aquarium.Unacknowledged {
			t.Error("forward: not judged")
		}
		w.skew.Add(-int64(2 * time.Hour)) // and back
		w.pass(30 * time.Second)
		if len(w.desk.Health()) != 0 {
			t.Errorf("back: %v", w.desk.Health())
		}
		w.flow(0)
		w.one()
		w.read("flow-b", w.at(), 0)
		w.pass(12 * time.Second)
		if as, _ := w.desk.Alarms(Filter{Standing: true}); len(as) != 2 {
			t.Errorf("back: got %d alarms, want the next one judged at once", len(as))
		}
	})
}

func TestConfigure(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		id := w.one().ID
		s := w.setup
		smaller := site()
		smaller.Name = "Quillmere"
		s.Sites = []aquarium.Site{smaller}
		if err := w.desk.Configure(s); err != nil { // changed, the filter stays
			t.Fatal(err)
		}
		w.pass(time.Minute)
		if a := w.one(); a.ID != id || !a.Active {
			t.Errorf("after a change: got %+v", a)
		}
		w.wantTexts("keeper", 1)
		smaller.Tanks = nil
		s.Sites = []aquarium.Site{smaller}
		if err := w.desk.Configure(s); err != nil {
			t.Fatal(err)
		}
		w.pass(time.Minute)
		a, err := w.desk.Alarm(id)
		if err != nil || a.State != aquarium.Normal || !strings.Contains(a.History[len(a.History)-2].Note, "no longer configured") {
			t.Errorf("tank removed: got %+v, %v", a, err)
		}
		w.wantTexts("keeper", 2)
		if es := w.desk.Journal("", "", 0, 0); len(es) != 2 || es[0].Kind != aquarium.Configured {
			t.Errorf("journal: got %+v", es)
		}
	})
}

func TestDeaf(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		from := w.at().Add(-time.Minute)
		for _, on := range []bool{true, true, false, false} {
			if err := w.desk.Deaf(on, from, "no broker heard"); err != nil {
				t.Fatal(err)
			}
			from = from.Add(30 * time.Second)
		}
		es := w.desk.Journal(library, "", 0, 0)
		if len(es) != 1 || es[0].Until.Sub(es[0].At) != time.Minute {
			t.Errorf("got %+v, want one entry of a minute", es)
		}
	})
}
