package proof

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/signal"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"lentic/store"
)

// A child is this test binary doing a course instead of testing. It says what
// it does on its standard output, a line before each deed and one after: what
// is done when a line has been written is acknowledged.
const childOf = "LENTIC_PROOF_CHILD"

// childAct is set for a child that does the act of an ordeal.
const childAct = "LENTIC_PROOF_ACT"

// order is what a child is told.
type order struct {
	course      string
	path        string
	from, until int // deeds
	limit       int // bytes that a file may have; 0: any
	paced       bool
}

func (o order) String() string {
	return fmt.Sprintf("%s %d %d %d %t %s", o.course, o.from, o.until, o.limit, o.paced, o.path)
}

// While packages are initialised the goroutine is locked to the process's first
// thread, so all that the child writes is written by one: a fault that is to
// strike the n-th call of a thread then strikes the n-th of all.
func init() {
	if spec := os.Getenv(childAct); spec != "" {
		name, dir, _ := strings.Cut(spec, " ")
		os.Exit(ordealNamed(name).run(dir))
	}
	spec := os.Getenv(childOf)
	if spec == "" {
		return
	}
	var o order
	if _, err := fmt.Sscanf(spec, "%s %d %d %d %t %s", &o.course, &o.from, &o.until, &o.limit, &o.paced, &o.path); err != nil {
		panic(err)
	}
	os.Exit(o.run())
}

// say writes a line at once.
func say(format string, a ...any) {
	fmt.Fprintln(os.Stdout, strings.ReplaceAll(fmt.Sprintf(format, a...), "\n", "; "))
}

// perSecond is the pace that readings come at when the child is to be killed.
const perSecond = 1000

// run does the course, and gives the status that a daemon would end with.
func (o order) run() int {
	c := courseNamed(o.course)
	var now atomic.Int64
	now.Store(int64(o.from))
	s, err := c.open(o.path, &now)
	if err != nil {
		say("closed %v", err)
		return status(err)
	}
	if o.paced {
		go s.Run(context.Background()) // a failed disk is told by the next deed
	}
	if o.limit > 0 {
		signal.Ignore(syscall.SIGXFSZ)
		limit := syscall.Rlimit{Cur: uint64(o.limit), Max: uint64(o.limit)}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			panic(err)
		}
	}
	began, sent := time.Now(), 0
	for n := o.from; n < o.until; n++ {
		d := c.deed(n)
		if sent += len(d.batch.Readings); o.paced {
			time.Sleep(time.Until(began.Add(time.Duration(sent) * time.Second / perSecond)))
		}
		now.Store(int64(n))
		say("begun %d", n)
		if err := d.do(s); err != nil {
			say("failed %d %v", n, err)
			o.insist(c, s, n)
			return status(err)
		}
		say("done %d", n)
	}
	if err := s.Close(); err != nil {
		say("closed %v", err)
		return status(err)
	}
	return 0
}

// insist tries to have something written after a deed has failed. Nothing may.
func (o order) insist(c course, s *store.Store, n int) {
	for _, k := range []kind{appending, writing, importing, replacing} {
		d := deed{kind: k, n: n}
		d.batch.Readings = c.history(rand.New(rand.NewPCG(1, 1)), 1000+n)
		err := d.do(s)
		if !errors.Is(err, store.ErrDisk) {
			say("taken %d %v", k, err)
		}
	}
}

// status is the daemon's for that error.
func status(err error) int {
	switch {
	case errors.Is(err, store.ErrDisk):
		return 74
	case errors.Is(err, store.ErrDamaged), errors.Is(err, store.ErrNotOurs):
		return 79
	}
	return 3
}
