package alert

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/alert/text"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

func noted(d *Desk, at aquarium.Instant, rs ...aquarium.Reading) func(ledger.Tx) error {
	return func(tx ledger.Tx) error { return d.Note(tx, aquarium.Outcome{Fresh: rs}, at) }
}

func countShelf(shelf string, n *int) func(ledger.Tx) error {
	return func(tx ledger.Tx) error {
		return tx.Each(shelf, "", "", func(string, []byte) bool { *n++; return true })
	}
}

// Whatever write the process dies at, after another start every alarm has been
// told, and what was told twice says so in its record.
func TestCrashAtEveryWrite(t *testing.T) {
	again := 0
	for n := 1; n < 60; n++ {
		ended := false
		t.Run(fmt.Sprint("write ", n), func(t *testing.T) {
			inWorld(t, func(w *world) {
				w.texts.delay = 300 * time.Millisecond
				w.up()
				w.ledger.fail = w.ledger.n + n
				w.flow(900)
				w.flow(0)
				w.pass(time.Minute)
				w.read("flow-b", w.at(), 0)
				w.pass(time.Minute)
				w.flow(900)
				ended = w.ledger.n < w.ledger.fail
				kept := w.history.has(sensor("flow-a"), 0)
				w.down()
				w.ledger.fail = 0
				w.texts.delay = 0
				w.up()
				w.pass(2 * time.Minute)
				again += w.checkTold(kept)
			})
		})
		if ended {
			if n < 10 || again == 0 {
				t.Errorf("%d writes and %d texts repeated: the crash never hit a text on its way", n, again)
			}
			return
		}
	}
	t.Error("never came to the end without a crash")
}

// checkTold compares what the provider took with what the outbox says, and
// returns how many texts were sent twice. The second filter stands whatever
// happened; the first had recovered, and is owed an alarm if its readings were
// stored when it had not.
func (w *world) checkTold(first bool) (again int) {
	w.t.Helper()
	took := map[string]int{}
	// What was on its way when the process ended goes by the other channel.
	for _, g := range slices.Concat(w.texts.all(), w.mail.all()) {
		took[g.ID]++
	}
	ms, err := w.desk.Outbox(0)
	if err != nil {
		w.t.Fatal(err)
	}
	told := map[aquarium.AlarmID]bool{}
	for _, m := range ms {
		n := took[m.ID]
		delete(took, m.ID)
		if m.State == Delivered && n == 0 {
			w.t.Errorf("message %s counts as delivered and never left", m.ID)
		}
		if m.State == Delivered || n > 0 {
			told[m.Alarm] = true
		}
		unsure := strings.Contains(fmt.Sprint(m.Attempts), "it may have arrived")
		if n > 1 {
			again++
			if !unsure {
				w.t.Errorf("message %s sent %d times and does not say so: %+v", m.ID, n, m.Attempts)
			}
		}
	}
	if len(took) > 0 {
		w.t.Errorf("texts nobody wrote: %v", took)
	}
	as, err := w.desk.Alarms(Filter{})
	if err != nil {
		w.t.Fatal(err)
	}
	seen := map[aquarium.EquipmentKey]int{}
	for _, a := range as {
		seen[a.Equipment]++
		if !told[a.ID] && !a.Record {
			w.t.Errorf("alarm %s was never told", a.Identity)
		}
	}
	if seen["b"] != 1 || seen["a"] > 1 || first && seen["a"] != 1 {
		w.t.Errorf("alarms by filter: got %v, first stored %v", seen, first)
	}
	return again
}

func TestRefusedHighGoesTheOtherWay(t *testing.T) {
	inWorld(t, func(w *world) {
		w.texts.set(true)
		w.up()
		from := w.at()
		w.flow(0)
		got := w.mail.all()
		if len(got) != 1 || got[0].To.ID != "keeper" {
			t.Fatalf("got %+v, want one mail", got)
		}
		if d := got[0].at.Sub(from); d > time.Minute {
			t.Errorf("went the other way after %s, want at most a minute", d)
		}
		ms, _ := w.desk.Outbox(0)
		if len(ms) != 1 || len(ms[0].Attempts) != 2 || !strings.Contains(ms[0].Attempts[0].Err, "no credit") || ms[0].Attempts[1].Receipt != "queued" {
			t.Errorf("record: got %+v", ms)
		}
		w.read("flow-b", w.at(), 0) // medium waits for its own channel
		w.pass(time.Minute)
		if len(w.mail.all()) != 1 {
			t.Error("a medium one went by mail")
		}
		w.texts.set(false)
		w.pass(5 * time.Minute)
		w.wantTexts("keeper", 1)
	})
}

func TestNobodyReached(t *testing.T) {
	inWorld(t, func(w *world) {
		w.texts.set(true)
		w.mail.set(true)
		w.up()
		w.flow(0)
		w.pass(3 * time.Minute)
		found := false
		as, _ := w.desk.Alarms(Filter{Standing: true})
		for _, a := range as {
			found = found || a.Cause == aquarium.NobodyReached
		}
		if !found {
			t.Fatalf("got %+v, want nobody-reached", as)
		}
		tried := map[string]bool{}
		ms, _ := w.desk.Outbox(0)
		for _, m := range ms {
			for _, a := range m.Attempts {
				tried[string(m.To)+" by "+string(a.By)] = true
			}
		}
		for _, want := range []string{"keeper by texts", "keeper by mail", "deputy by texts"} {
			if !tried[want] {
				t.Errorf("never tried %s: %v", want, tried)
			}
		}
		w.mail.set(false)
		w.pass(10 * time.Minute)
		for _, a := range func() []aquarium.Alarm { as, _ := w.desk.Alarms(Filter{Standing: true}); return as }() {
			if a.Cause == aquarium.NobodyReached && a.Active {
				t.Errorf("still stands after a text got through: %+v", a)
			}
		}
	})
}

func TestSlowProviderDelaysNobodyElse(t *testing.T) {
	inWorld(t, func(w *world) {
		slow := &post{clock: w.texts.clock, delay: time.Hour}
		w.setup.Senders["slow"] = slow
		w.setup.CallOut[aquarium.High] = []aquarium.Rung{{Tell: "keeper", By: "slow"}, {Tell: "deputy", By: "texts"}}
		w.up()
		from := w.at()
		w.flow(0)
		got := w.texts.all()
		if len(got) != 1 || got[0].at.Sub(from) > aquarium.Step+grace {
			t.Errorf("got %+v, want the deputy told at once", got)
		}
		w.pass(time.Minute)
		if len(w.mail.to("keeper"))+len(w.texts.to("keeper")) == 0 {
			t.Error("the keeper was not told by another channel within the minute")
		}
	})
}

func TestLinks(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		w.texts.set(true)
		w.mail.set(true)
		w.flow(0)
		if !w.ledgerHolds("/a/") {
			t.Error("a waiting text must hold its link")
		}
		w.texts.set(false)
		w.mail.set(false)
		w.pass(time.Minute)
		got := append(w.texts.to("keeper"), w.mail.to("keeper")...)
		if len(got) != 1 {
			t.Fatalf("got %v", got)
		}
		_, token, ok := strings.Cut(got[0], "https://watch.example.net/a/")
		if !ok || len(token) < 22 { // 128 bit in 64 signs
			t.Fatalf("got %q, want a link", got[0])
		}
		if w.ledgerHolds(token) {
			t.Error("the token is kept after the text has left")
		}
		if a, who, err := w.desk.ByToken(token); err != nil || who != "keeper" || a.ID != w.one().ID {
			t.Errorf("got %s, %q, %v", a.ID, who, err)
		}
		for _, bad := range []string{"", "x", token + "x", strings.ToLower(token)} {
			if _, _, err := w.desk.ByToken(bad); err != ErrUnknownLink {
				t.Errorf("token %q: got %v", bad, err)
			}
		}
		w.pass(LinkLife)
		if _, err := w.desk.AcknowledgeByToken(token, ""); err != ErrUnknownLink {
			t.Errorf("after 72 h: got %v", err)
		}
	})
}

// ledgerHolds searches every document for a word.
func (w *world) ledgerHolds(word string) bool {
	found := false
	err := w.ledger.View(func(tx ledger.Tx) error {
		for _, s := range []string{shelfOutbox, shelfSent, shelfLinks, shelfStanding, shelfPast} {
			err := tx.Each(s, "", "", func(key string, doc []byte) bool {
				found = found || strings.Contains(key, word) || strings.Contains(string(doc), word)
				return true
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		w.t.Fatal(err)
	}
	return found
}

func TestNoPublicURLNoLink(t *testing.T) {
	inWorld(t, func(w *world) {
		w.setup.PublicURL = ""
		w.up()
		w.flow(0)
		if got := w.wantTexts("keeper", 1); len(got) == 1 && strings.Contains(got[0], "http") {
			t.Errorf("got %q, want no link", got[0])
		}
	})
}

func TestReturnedBeforeItLeft(t *testing.T) {
	inWorld(t, func(w *world) {
		w.texts.set(true)
		w.mail.set(true)
		w.up()
		w.flow(0)
		w.flow(900)
		w.texts.set(false)
		w.pass(10 * time.Minute)
		got := w.wantTexts("keeper", 1)
		ms, _ := w.desk.Outbox(0)
		states := map[text.Kind]MessageState{}
		for _, m := range ms {
			states[m.Kind] = m.State
		}
		if states[text.Raised] != Overtaken || states[text.AllClear] != Delivered {
			b, _ := json.MarshalIndent(ms, "", " ")
			t.Errorf("want the raise overtaken and the all-clear delivered, got %v: %s", got, b)
		}
	})
}

func TestGivenUpAfterADay(t *testing.T) {
	inWorld(t, func(w *world) {
		w.texts.set(true)
		w.up()
		w.read("flow-b", w.at(), 0)
		w.pass(25 * time.Hour)
		ms, _ := w.desk.Outbox(0)
		for _, m := range ms {
			if m.Alarm != "" && m.Priority == aquarium.Medium && m.State != Failed {
				t.Errorf("got %s after %d attempts", m.State, len(m.Attempts))
			}
			if n := len(m.Attempts); n > 400 {
				t.Errorf("%d attempts in a day", n)
			}
		}
	})
}
