package main

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// TestProgress: on a terminal one line that is written over, elsewhere nothing.
func TestProgress(t *testing.T) {
	var b strings.Builder
	at := time.Unix(0, 0)
	p := &progress{out: &b, now: func() time.Time { return at }}
	p.show("reading a.csv", 0.1)
	p.show("reading a.csv", 0.11) // too soon
	at = at.Add(time.Second)
	p.show("judging", 1)
	p.clear()
	p.clear()
	want := "\rreading a.csv  10 %" + "\rjudging 100 %      " + "\r" + strings.Repeat(" ", len("judging 100 %")) + "\r"
	if got := b.String(); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	silent := &progress{now: time.Now}
	silent.show("reading", 0.5)
	silent.clear()
}

// TestProgressOfTheUnknown: what does not say how far it is shows its time, and
// the line is gone before the first word of the answer.
func TestProgressOfTheUnknown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var screen strings.Builder
		p := &progress{out: &screen, now: time.Now}
		out, stop := p.during("judging", &screen)
		time.Sleep(2500 * time.Millisecond)
		synctest.Wait()
		fmt.Fprint(out, "No alarms.")
		fmt.Fprint(out, "\n")
		stop()
		if got, want := screen.String(), "\rjudging 1s\rjudging 2s\r          \rNo alarms.\n"; got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	})
}
