package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"
)

// progress shows on a terminal how far long work has come, in one line that is
// written over. Elsewhere it shows nothing.
type progress struct {
	out   io.Writer // nil: nothing is shown
	now   func() time.Time
	shown time.Time
	width int // of the line that stands there
}

// progressEvery is how often the line changes at most.
const progressEvery = 200 * time.Millisecond

func newProgress() *progress {
	p := &progress{now: time.Now}
	if term.IsTerminal(int(os.Stderr.Fd())) {
		p.out = os.Stderr
	}
	return p
}

// show says what is done and which part of it is, from 0 to 1.
func (p *progress) show(what string, part float64) {
	if p.out == nil || p.now().Sub(p.shown) < progressEvery {
		return
	}
	p.shown = p.now()
	p.line(fmt.Sprintf("%s %3.0f %%", what, 100*part))
}

// step is a daemon.Progress.
func (p *progress) step(what string, done, total int64) {
	p.show(what, float64(done)/float64(max(1, total)))
}

func (p *progress) line(line string) {
	if p.out == nil {
		return
	}
	fmt.Fprintf(p.out, "\r%s%s", line, strings.Repeat(" ", max(0, p.width-len(line))))
	p.width = len(line)
}

// during shows how long something has taken that does not say how far it is,
// until what it says arrives at out or stop is called.
func (p *progress) during(what string, out io.Writer) (watched io.Writer, stop func()) {
	ended, gone := make(chan struct{}), make(chan struct{})
	began := p.now()
	go func() {
		defer close(gone)
		defer p.clear()
		tick := time.NewTicker(time.Second)
		defer tick.Stop()
		for {
			select {
			case <-ended:
				return
			case <-tick.C:
				p.line(fmt.Sprintf("%s %s", what, p.now().Sub(began).Round(time.Second)))
			}
		}
	}()
	stop = sync.OnceFunc(func() { close(ended); <-gone })
	return before{out, stop}, stop
}

// before is a writer with something to be done first.
type before struct {
	io.Writer
	first func()
}

func (b before) Write(p []byte) (int, error) {
	b.first()
	return b.Writer.Write(p)
}

// clear takes the line away, for something else to be said or at the end.
func (p *progress) clear() {
	if p.out != nil && p.width > 0 {
		fmt.Fprintf(p.out, "\r%s\r", strings.Repeat(" ", p.width))
	}
	p.width, p.shown = 0, time.Time{}
}
