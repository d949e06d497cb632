package proof

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// TestPowerLoss: a child's writes and syncs are recorded, from the making of
// the file on, and the power is cut after each of them. Whatever becomes of
// what was not synced, what had been acknowledged is there, nothing is
// invented, and the store goes on from there.
func TestPowerLoss(t *testing.T) {
	for _, c := range courses {
		t.Run(c.name, func(t *testing.T) {
			x := newOutage(t, c, max(40, scaled(40, 200)))
			x.cutEvery(stride(3))
			for _, err := range x.wrong {
				t.Error(err)
			}
			t.Logf("%d calls, %d of them syncs; the power was cut %d times, what was not synced being %v; acknowledged and lost 0, invented 0", len(x.events), x.syncs, x.cuts, x.by)
		})
	}
}

// TestPowerLossOnALyingDisk: the same proof finds a disk that says it has
// synced and has not.
func TestPowerLossOnALyingDisk(t *testing.T) {
	x := newOutage(t, courseNamed("append"), 12)
	x.d.lies = true
	x.cutEvery(5)
	t.Logf("found %d times of %d", len(x.wrong), x.cuts)
	if len(x.wrong) < x.cuts/5 {
		t.Errorf("found %d times of %d", len(x.wrong), x.cuts)
	}
}

// outage is one recording being cut again and again.
type outage struct {
	t           testing.TB
	events      []event
	y           *story
	d           *disk
	dir         string
	rnd         *rand.Rand
	acked       int
	cuts, syncs int
	by          map[fate]int
	wrong       []error
}

func newOutage(t testing.TB, c course, deeds int) *outage {
	dir := quickDir(t)
	o := order{course: c.name, path: filepath.Join(dir, "lentic.db"), until: deeds}
	r := o.record(t, "")
	if r.status != 0 || r.acknowledged(0) != deeds {
		t.Fatalf("the child ended with %d, having said %.300s", r.status, r.said)
	}
	return &outage{t: t, events: r.events, y: newStory(t, c), d: newDisk(), dir: dir, rnd: rand.New(rand.NewPCG(8, 1)), by: map[fate]int{}}
}

// cutEvery cuts the power after every so many events.
func (x *outage) cutEvery(n int) {
	for i := range x.events {
		e := &x.events[i]
		if line, ok := e.said(); ok {
			if n, ok := deedOf(line, "done"); ok {
				x.acked = n + 1
			}
			continue
		}
		x.d.do(e)
		if e.call == "fdatasync" || e.call == "fsync" {
			x.syncs++
		}
		if i%n == 0 {
			x.cut(fmt.Sprintf("after call %d, %s", i, e.call))
		}
	}
}

// cut cuts the power once, with every fate of what was not synced.
func (x *outage) cut(when string) {
	x.t.Helper()
	for _, how := range []fate{dropped, kept, torn, reordered, reordered} {
		x.cuts++
		x.by[how]++
		further := 0
		if x.cuts%4 == 0 {
			further = 3
		}
		if err := x.y.rise(x.d.cut(x.dir, how, x.rnd), x.acked, further); err != nil {
			x.wrong = append(x.wrong, fmt.Errorf("%s, what was not synced %s, %d deeds acknowledged: %w", when, how, x.acked, err))
		}
	}
}

// rise judges files that a failure left.
func (y *story) rise(files map[string][]byte, acknowledged, further int) error {
	dir := quickDir(y.t)
	defer os.RemoveAll(dir)
	if err := lay(dir, files); err != nil {
		y.t.Fatal(err)
	}
	return y.reopen(filepath.Join(dir, "lentic.db"), acknowledged, further)
}
