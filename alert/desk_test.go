package alert

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestRaisedToldReturned(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		if as, _ := w.desk.Alarms(Filter{}); len(as) != 0 {
			t.Fatalf("got %v, want no alarm", as)
		}
		w.flow(3)
		a := w.one()
		if a.State != aquarium.Unacknowledged || !a.Active || a.Cause != aquarium.FilterStalled || a.Evidence.Value != 3 {
			t.Errorf("got %+v", a)
		}
		w.wantTexts("keeper", 1)
		w.flow(2) // the same alarm
		w.wantTexts("keeper", 1)
		w.flow(900)
		if a = w.one(); a.State != aquarium.ReturnedUnacknowledged || a.Active || a.Returned == 0 {
			t.Errorf("returned: got %+v", a)
		}
		w.wantTexts("keeper", 2)
		w.pass(2 * time.Hour)
		w.wantTexts("keeper", 2)
		w.wantTexts("deputy", 0)
		if _, err := w.desk.Acknowledge(a.ID, "keeper", "seen"); err != nil {
			t.Fatal(err)
		}
		if a, err := w.desk.Alarm(a.ID); err != nil || a.State != aquarium.Normal || a.AcknowledgedBy != "keeper" {
			t.Errorf("closed: got %+v, %v", a, err)
		}
	})
}

// A tick is judged a second after its time; nothing but the step of judgement
// lies between a reading and its text.
func TestLatency(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		for i := range 10 { // at every second of the step
			w.flow(900)
			phase := w.at().Sub(w.at().Floor(aquarium.Step))
			w.pass((time.Duration(i)*time.Second - phase + aquarium.Step) % aquarium.Step)
			w.pass(time.Millisecond)
			at := w.at()
			before := len(w.texts.all())
			w.read("flow-a", at, 0)
			w.pass(11 * time.Second)
			if got := w.texts.all(); len(got) != before+1 {
				t.Fatalf("second %d: %d texts after 11 s, want one", i, len(got)-before)
			} else if took := got[before].at.Sub(at); took > 11*time.Second {
				t.Errorf("second %d: told after %s, want at most 11 s", i, took)
			}
			w.flow(900)
			if _, err := w.desk.Acknowledge(w.one().ID, "keeper", ""); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func TestLadderUntilAcknowledged(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		w.wantTexts("keeper", 1)
		w.pass(11 * time.Minute)
		w.wantTexts("deputy", 1)
		w.pass(10 * time.Minute)
		w.wantTexts("keeper", 2)
		w.pass(15 * time.Minute)
		got := w.wantTexts("keeper", 3)
		token := got[2][strings.LastIndex(got[2], "/a/")+3:]
		a, who, err := w.desk.ByToken(token)
		if err != nil || who != "keeper" || a.State != aquarium.Unacknowledged {
			t.Fatalf("by token: got %+v for %q, %v", a, who, err)
		}
		if w.one().State != aquarium.Unacknowledged {
			t.Error("looking at the link changed the alarm")
		}
		if _, err := w.desk.AcknowledgeByToken(token, ""); err != nil {
			t.Fatal(err)
		}
		w.pass(2 * time.Hour)
		w.wantTexts("keeper", 3)
		w.flow(900)
		w.wantTexts("keeper", 4) // the all-clear, to both
		w.wantTexts("deputy", 2)
	})
}

func TestQuietHours(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.pass(11 * time.Hour) // 23:00
		w.read("flow-b", w.at(), 0)
		w.pass(time.Hour)
		w.wantTexts("keeper", 0)
		w.flow(0) // high
		w.wantTexts("keeper", 1)
		w.pass(7 * time.Hour)
		n := 0
		for _, s := range w.texts.all() {
			if at := s.at.Time(); at.Hour() == 7 && at.Minute() == 0 {
				n++
			}
		}
		if n == 0 {
			t.Error("the medium one was not told at 07:00")
		}
	})
}

func TestFlutterTellsOnce(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		w.flow(900)
		w.wantTexts("keeper", 2) // raised, all clear
		w.flow(0)
		w.wantTexts("keeper", 3) // back after the all-clear
		for range 5 {
			w.flow(900)
			w.pass(time.Minute)
			w.flow(0)
			w.pass(time.Minute)
		}
		w.wantTexts("keeper", 3)
		w.flow(900)
		w.pass(settle + aquarium.Step)
		w.wantTexts("keeper", 4)
		if as, _ := w.desk.Alarms(Filter{}); len(as) != 1 {
			t.Errorf("got %d alarms, want the same one", len(as))
		}
	})
}

func TestAcknowledgeAndShelve(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		if _, err := w.desk.Acknowledge("nothing", "keeper", ""); !errors.Is(err, aquarium.ErrUnknownAlarm) {
			t.Errorf("unknown: got %v", err)
		}
		if _, err := w.desk.Shelve("nothing", w.at().Add(time.Hour), "keeper", ""); !errors.Is(err, aquarium.ErrUnknownAlarm) {
			t.Errorf("unknown: got %v", err)
		}
		w.flow(0)
		id := w.one().ID
		for range 2 { // repeating is no error
			if a, err := w.desk.Acknowledge(id, "keeper", "on my way"); err != nil || a.State != aquarium.Acknowledged {
				t.Fatalf("got %s, %v", a.State, err)
			}
		}
		if a, _ := w.desk.Acknowledge(id, "deputy", "me too"); a.AcknowledgedBy != "keeper" {
			t.Errorf("the first stands: got %q", a.AcknowledgedBy)
		}
		for _, d := range []time.Duration{0, -time.Minute, ShelveLimit + time.Second} {
			if _, err := w.desk.Shelve(id, w.at().Add(d), "keeper", ""); !errors.Is(err, aquarium.ErrNotPossible) {
				t.Errorf("shelve for %s: got %v", d, err)
			}
		}
		until := w.at().Add(ShelveLimit)
		for range 2 {
			if a, err := w.desk.Shelve(id, until, "keeper", "pump on order"); err != nil || a.State != aquarium.Shelved {
				t.Fatalf("got %s, %v", a.State, err)
			}
		}
		if _, err := w.desk.Acknowledge(id, "keeper", ""); !errors.Is(err, aquarium.ErrNotPossible) {
			t.Errorf("acknowledge the shelved: got %v", err)
		}
		if a, err := w.desk.Shelve(id, w.at().Add(time.Hour), "keeper", "sooner"); err != nil || a.ShelvedFor != "sooner" {
			t.Errorf("another time: got %v", err)
		}
		w.pass(30 * time.Minute)
		w.wantTexts("keeper", 1)
		w.pass(31 * time.Minute)
		w.wantTexts("keeper", 2) // still true when the time was up
		w.flow(900)
		if _, err := w.desk.Shelve(id, w.at().Add(time.Hour), "keeper", ""); !errors.Is(err, aquarium.ErrNotPossible) {
			t.Errorf("shelve what has returned: got %v", err)
		}
	})
}

func TestVisit(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(900)
		if _, err := w.desk.StartVisit(aquarium.TankKey{Site: library, Tank: "cellar"}, 0, "keeper", ""); !errors.Is(err, aquarium.ErrUnknownTank) {
			t.Errorf("unknown tank: got %v", err)
		}
		if _, err := w.desk.EndVisit(tankKey, "keeper", ""); !errors.Is(err, aquarium.ErrNotPossible) {
			t.Errorf("no visit to end: got %v", err)
		}
		if _, err := w.desk.StartVisit(tankKey, 30*time.Minute, "keeper", "cleaning"); err != nil {
			t.Fatal(err)
		}
		w.flow(0)
		if a := w.one(); a.State != aquarium.StateOutOfService {
			t.Errorf("during a visit: got %s", a.State)
		}
		w.wantTexts("keeper", 0)
		w.pass(30 * time.Minute)
		if a := w.one(); a.State != aquarium.Unacknowledged {
			t.Errorf("after the visit: got %s", a.State)
		}
		w.wantTexts("keeper", 2) // the visit is over, and the filter stands
		es := w.desk.Journal(library, atrium, 0, 0)
		if len(es) != 1 || es[0].Kind != aquarium.Visit || es[0].Until.Sub(es[0].At) != 30*time.Minute {
			t.Errorf("journal: got %+v", es)
		}
	})
}

func TestVisitEndedByHand(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.flow(0)
		w.wantTexts("keeper", 1)
		if _, err := w.desk.StartVisit(tankKey, 0, "", "filter"); err != nil {
			t.Fatal(err)
		}
		w.pass(time.Minute)
		if a := w.one(); a.State != aquarium.StateOutOfService {
			t.Errorf("got %s", a.State)
		}
		w.flow(900) // cured while there: all clear to who was told
		w.wantTexts("keeper", 2)
		if _, err := w.desk.EndVisit(tankKey, "keeper", "hose refitted"); err != nil {
			t.Fatal(err)
		}
		if e := w.desk.Journal(library, atrium, 0, 0)[0]; e.By != "keeper" || e.Note != "filter; hose refitted" {
			t.Errorf("journal: got by %q, note %q; want keeper, both notes", e.By, e.Note)
		}
		w.pass(3 * time.Hour)
		w.wantTexts("keeper", 2)
	})
}

func TestContactsOnTheLadder(t *testing.T) {
	inWorld(t, func(w *world) {
		w.setup.CallOut[aquarium.High] = []aquarium.Rung{{Tell: Contacts}, {Tell: "desk", By: "texts", After: time.Minute}}
		w.up()
		w.flow(0)
		w.wantTexts("desk", 1)
		w.pass(time.Minute)
		w.wantTexts("desk", 2)
		w.flow(900)
		if got := w.texts.to("desk"); len(got) < 3 {
			t.Errorf("no all-clear: %v", got)
		}
	})
}

func TestOwnCauses(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		if err := w.desk.Own(aquarium.PHLow, true, aquarium.Evidence{}); err == nil {
			t.Error("a tank's cause was taken for lentic's own")
		}
		for range 2 {
			if err := w.desk.Own(aquarium.IntakeLost, true, aquarium.Evidence{}); err != nil {
				t.Fatal(err)
			}
		}
		w.pass(time.Second)
		if a := w.one(); a.Cause != aquarium.IntakeLost || a.Site != "" || a.Priority != aquarium.High {
			t.Errorf("got %+v", a)
		}
		w.wantTexts("keeper", 1)
		if err := w.desk.Own(aquarium.IntakeLost, false, aquarium.Evidence{}); err != nil {
			t.Fatal(err)
		}
		w.pass(time.Second)
		w.wantTexts("keeper", 2)
	})
}

func TestDigest(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.pass(20 * time.Hour) // past 07:30
		if got := w.mail.all(); len(got) != 1 || got[0].at.In(time.UTC).Format("15:04") != "07:30" {
			t.Fatalf("a quiet day: got %+v, want one mail at 07:30", got)
		}
		w.read("ph", w.at(), 5.5)
		w.pass(time.Minute)
		if len(w.mail.all()) != 1 || len(w.texts.all()) != 0 {
			t.Error("a low one was told at once")
		}
		w.pass(24 * time.Hour)
		if got := w.mail.all(); len(got) != 2 || got[1].Subject == got[0].Subject && got[1].Text == got[0].Text {
			t.Errorf("want a second mail that names the alarm, got %+v", got)
		}
	})
}

func TestTestText(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		got, err := w.desk.TestText(context.Background(), "keeper")
		if err != nil || got != "mail: queued\ntexts: queued" {
			t.Fatalf("got %q, %v; want both channels proved", got, err)
		}
		w.texts.set(true)
		got, err = w.desk.TestText(context.Background(), "deputy")
		if err == nil || got != "" || !strings.Contains(err.Error(), "no credit") {
			t.Errorf("got %q, %v; want the provider's answer", got, err)
		}
		if _, err = w.desk.TestText(context.Background(), "stranger"); !errors.Is(err, aquarium.ErrUnknownPerson) {
			t.Errorf("got %v", err)
		}
		if ms, err := w.desk.Outbox(0); err != nil || len(ms) != 3 {
			t.Errorf("record: got %d, %v; want 3", len(ms), err)
		}
	})
}
