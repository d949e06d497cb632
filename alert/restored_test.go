package alert

import (
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestRestored: a ledger from a backup of three hours ago tells nobody anything
// of the time since, whatever was on its way then; what still stands goes on
// from here.
func TestRestored(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		w.wantTexts("keeper", 1) // high: the deputy's turn is to come
		w.texts.set(true)
		w.mail.set(true)
		w.read("flow-b", w.at(), 0) // medium: its text does not get out
		w.pass(20 * time.Second)
		if _, err := w.desk.StartVisit(aquarium.TankKey{Site: library, Tank: atrium}, time.Hour, "keeper", ""); err != nil {
			t.Fatal(err)
		}
		w.down()
		w.pass(3 * time.Hour)
		w.texts.set(false)
		w.mail.set(false)
		before := len(w.texts.all()) + len(w.mail.all())

		d, err := New(Options{Setup: w.setup, History: w.history, Ledger: w.ledger, Now: w.now, watch: w.watch})
		if err != nil {
			t.Fatal(err)
		}
		waiting := len(d.box)
		r, err := d.Restored()
		if err != nil || r.Messages != waiting || waiting == 0 || r.Alarms != 2 || r.Visits != 1 {
			t.Fatalf("got %+v, %v; want %d messages, two alarms, the visit", r, err, waiting)
		}

		w.up()
		w.pass(4 * time.Minute)
		if got := len(w.texts.all()) + len(w.mail.all()); got != before {
			t.Errorf("%d messages went out: %+v", got-before, w.texts.all()[before:])
		}
		ms, err := w.desk.Outbox(0)
		if err != nil {
			t.Fatal(err)
		}
		closed := 0
		for _, m := range ms {
			if m.State == Failed && strings.Contains(m.Why, "restored from a backup") && m.Token == "" {
				closed++
			}
			if !m.done() {
				t.Errorf("still to be sent: %+v", m)
			}
		}
		if closed != waiting {
			t.Errorf("%d messages marked, want %d", closed, waiting)
		}
		w.pass(2 * time.Minute) // the high one still stands, and its last rung repeats each quarter of an hour
		w.wantTexts("keeper", 2)
		w.wantTexts("deputy", 0)
		w.flow(900)
		w.wantTexts("keeper", 3)
	})
}
