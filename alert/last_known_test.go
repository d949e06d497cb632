package alert

import (
	"strings"
	"testing"
	"time"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// TestLastKnownIsKept: an alarm whose readings stop says so where it is looked
// at, over a restart and a late batch too, and no text tells of it by itself.
func TestLastKnownIsKept(t *testing.T) {
	inWorld(t, func(w *world) {
		w.watch = newWatch
		s := &w.setup.Sites[0]
		s.Tanks[0].Equipment.Filters[0].RatedLH, s.Tanks[0].Equipment.Filters[1].RatedLH = 1100, 1100
		w.up()
		begun := w.at()
		play := func(minutes int, a, b float64) {
			for range minutes {
				w.pass(time.Minute)
				if a >= 0 {
					w.read("flow-a", w.at(), a)
				}
				w.read("flow-b", w.at(), b)
			}
		}
		stalled := func() aquarium.Alarm {
			t.Helper()
			as, err := w.desk.Alarms(Filter{Standing: true})
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range as {
				if x.Cause == aquarium.FilterStalled {
					return x
				}
			}
			t.Fatalf("the filter does not stand: %+v", as)
			return aquarium.Alarm{}
		}
		want := func(when string, known bool) {
			t.Helper()
			x := stalled()
			says := strings.Contains(text.Sentence(x, *s), "ast known")
			if x.Evidence.LastKnown != known || says != known || !x.Active || x.State != aquarium.Unacknowledged {
				t.Errorf("%s: last known %v, said %v in %q, want %v", when, x.Evidence.LastKnown, says, text.Sentence(x, *s), known)
			}
		}
		about := func() (n int) {
			for _, g := range w.texts.to("keeper") {
				if strings.Contains(g, "stands still") {
					n++
				}
			}
			return n
		}
		play(60, 900, 900)
		play(10, 0, 900)
		want("while it is read", false)
		play(5, -1, 900)
		want("in a gap", false)
		play(10, -1, 900)
		want("after its sensor's silence", true)
		w.down()
		w.up()
		want("after a restart", true)
		play(5, -1, 900)
		want("after a restart, still silent", true)
		play(2, 0, 900)
		want("read again", false)
		play(15, -1, 900)
		want("silent again", true)
		for m := 94; m <= 107; m++ { // what the gateway had kept
			w.read("flow-a", begun.Add(time.Duration(m)*time.Minute), 0)
		}
		play(2, 0, 900)
		want("after a late batch", false)
		if n := about(); n != 1 {
			t.Errorf("%d texts about it, want the one that told it:\n%s", n, strings.Join(w.texts.to("keeper"), "\n"))
		}
		var record []string
		for _, h := range stalled().History {
			if h.What == string(aquarium.ReadingsStopped) || h.What == string(aquarium.ReadingsBack) {
				record = append(record, h.What)
			}
		}
		if got := strings.Join(record, " "); got != "readings-stopped readings-back readings-stopped readings-back" {
			t.Errorf("its record says %q", got)
		}
	})
}
