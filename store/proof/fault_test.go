package proof

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// faulty are the calls that a fault strikes, and its kinds.
var (
	faulty = []string{"pwrite64", "fdatasync", "fsync", "ftruncate", "openat", "linkat", "renameat", "unlinkat", "mkdirat", "write", "copy_file_range"}
	faults = []string{"EIO", "ENOSPC", "EINTR"}
)

// fault is the n-th call going wrong.
type fault struct {
	call, errno string
	n           int
}

func (f fault) String() string { return fmt.Sprintf("%s:error=%s:when=%d", f.call, f.errno, f.n) }

// TestNthFault: every write, sync, change of length, opening and change of
// names of a course goes wrong once, from the making of the file on. After it
// nothing more is acknowledged, and what had been is there: in the file, and on
// a disk that lost what it could not sync.
func TestNthFault(t *testing.T) {
	for _, c := range courses {
		t.Run(c.name, func(t *testing.T) {
			deeds := max(20, scaled(20, 30))
			all, total := some(countCalls(t, c, deeds), 16)
			x := faultRun{t: t, c: c, deeds: deeds, y: newStories(t, c)}
			for _, f := range all {
				x.strike(f)
			}
			t.Logf("%d of %d faults: %d ended the process, %d were overcome, %d did not strike; acknowledged and lost 0, after a fault 0", len(all), total, x.ended, x.overcome, x.missed)
			if x.ended == 0 {
				t.Error("no fault ended the process")
			}
		})
	}
}

// countCalls is how often a course that goes well makes each call.
func countCalls(t testing.TB, c course, deeds int) map[string]int {
	o := order{course: c.name, path: filepath.Join(quickDir(t), "lentic.db"), until: deeds}
	r := o.record(t, "")
	if r.status != 0 {
		t.Fatalf("the child ended with %d, having said %.300s", r.status, r.said)
	}
	return r.times()
}

// times is how often the calls were made that a fault may strike, by the thread
// that made the most: strace takes the n-th call of each thread for the n-th.
func (r *recording) times() map[string]int {
	made := map[[2]string]int{}
	times := map[string]int{}
	for i := range r.events {
		e := &r.events[i]
		if _, said := e.said(); said || !slices.Contains(faulty, e.call) {
			continue
		}
		by := [2]string{e.thread, e.call}
		made[by]++
		times[e.call] = max(times[e.call], made[by])
	}
	return times
}

// some are all faults that may strike such calls, or a share of them.
func some(times map[string]int, share int) (fs []fault, total int) {
	for _, call := range faulty {
		for n := 1; n <= times[call]; n++ {
			for _, e := range faults {
				fs = append(fs, fault{call, e, n})
			}
		}
	}
	total = len(fs)
	rnd := rand.New(rand.NewPCG(3, 3))
	rnd.Shuffle(total, func(i, j int) { fs[i], fs[j] = fs[j], fs[i] })
	// However small the share, a sync that fails is in it, which must end the
	// process: the first, which there is in any run.
	if i := slices.Index(fs, fault{"fdatasync", "EIO", 1}); i > 0 {
		fs[0], fs[i] = fs[i], fs[0]
	}
	return fs[:min(total, scaled(share, total))], total
}

type faultRun struct {
	t     testing.TB
	c     course
	deeds int
	y     *stories
	// A fault is missed where the calls fell to other threads than in the run
	// that was counted.
	ended, overcome, missed int
}

// strike has a child do the course with one fault.
func (x *faultRun) strike(f fault) {
	dir := quickDir(x.t)
	defer os.RemoveAll(dir)
	o := order{course: x.c.name, path: filepath.Join(dir, "lentic.db"), until: x.deeds}
	r := o.record(x.t, f.String())
	wrong := func(format string, a ...any) {
		x.t.Helper()
		x.t.Errorf("%s: %s; the child ended with %d, its last words %q", f, fmt.Sprintf(format, a...), r.status, lastLines(r.said, 3))
	}
	if err := r.silentAfter(f); err != nil {
		wrong("%v", err)
	}
	struck := slices.ContainsFunc(r.events, func(e event) bool { return e.forced })
	switch {
	case r.status == 0 && !struck:
		x.missed++
	case r.status == 0:
		x.overcome++
	case r.status == 74:
		x.ended++
	case r.status == 3: // the file could not be opened or made
		x.ended++
		if r.acknowledged(0) > 0 {
			wrong("a deed failed without the disk being blamed")
		}
	default:
		wrong("it may not end so")
	}
	for _, err := range x.y.aftermath(&r, newDisk(), dir, 0) {
		wrong("%v", err)
	}
}

// silentAfter checks that nothing is acknowledged after a call that failed for
// good: one that was interrupted may be made again.
func (r *recording) silentAfter(f fault) error {
	struck := false
	for i := range r.events {
		e := &r.events[i]
		if line, ok := e.said(); ok && struck {
			if strings.HasPrefix(line, "done") || strings.HasPrefix(line, "taken") {
				return fmt.Errorf("after the fault it said %q", line)
			}
		}
		again := e.errno == "EINTR" && i+1 < len(r.events) && r.events[i+1].call == e.call && r.events[i+1].errno == ""
		if e.forced && !again && (e.call == "pwrite64" || e.call == "fdatasync" || e.call == "ftruncate" || e.call == "fsync") {
			struck = true
		}
	}
	return nil
}

func lastLines(s string, n int) []string {
	lines := strings.Split(strings.TrimSpace(s), "\n")
	return lines[max(0, len(lines)-n):]
}

// stories hands out a story for any number of deeds, again and again.
type stories struct {
	t testing.TB
	c course
	y *story
}

func newStories(t testing.TB, c course) *stories { return &stories{t, c, newStory(t, c)} }

func (s *stories) about(acknowledged int) *story {
	if acknowledged <= s.y.told-remembered {
		s.y = newStory(s.t, s.c)
	}
	return s.y
}

// aftermath judges what a child left that did deeds from one on: its file as it
// is, and as it may be on the disk when the power is cut at once. d is the disk
// as the child found it.
func (s *stories) aftermath(r *recording, d *disk, dir string, from int) (wrong []error) {
	acked := r.acknowledged(from)
	y := s.about(acked)
	for i := range r.events {
		d.do(&r.events[i])
	}
	rnd := rand.New(rand.NewPCG(5, uint64(acked)))
	path := filepath.Join(dir, "lentic.db")
	left, err := os.ReadFile(path)
	if replayed := d.cut(dir, kept, rnd)["lentic.db"]; !bytes.Equal(left, replayed) {
		wrong = append(wrong, fmt.Errorf("the recording makes a file of %d bytes, the child left another of %d (%v)", len(replayed), len(left), err))
	}
	if err := y.reopen(path, acked, 3); err != nil {
		wrong = append(wrong, fmt.Errorf("%d deeds acknowledged: %w", acked, err))
	}
	for _, how := range []fate{dropped, torn, reordered} {
		if err := y.rise(d.cut(dir, how, rnd), acked, 0); err != nil {
			wrong = append(wrong, fmt.Errorf("%d deeds acknowledged, and the power cut with what was not synced %s: %w", acked, how, err))
		}
	}
	return wrong
}
