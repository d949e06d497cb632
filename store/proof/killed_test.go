package proof

import (
	"bufio"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestKilled: a child that takes 1,000 readings a second, with the housekeeping
// running beside it, is killed at random. The next one goes on from what it
// left.
func TestKilled(t *testing.T) {
	const each = 10 // kills on one file
	c := courseNamed("mixed")
	rnd := rand.New(rand.NewPCG(7, 9))
	kills, deeds := max(4, scaled(10, 200)), 0
	for left := kills; left > 0; left -= each {
		y := newStory(t, c)
		path := filepath.Join(t.TempDir(), "lentic.db")
		done := 0
		for range min(each, left) {
			acked := killed(t, order{course: c.name, path: path, from: done, until: 1 << 30, paced: true}, time.Duration(100+rnd.IntN(400))*time.Millisecond)
			var err error
			if done, err = y.judgeFile(path, acked); err != nil {
				t.Fatalf("%d deeds acknowledged: %v", acked, err)
			}
		}
		deeds += done
	}
	t.Logf("%d kills at %d readings a second, %d deeds acknowledged; lost 0, invented 0", kills, perSecond, deeds)
}

// killed runs a child, kills it so long after its first word, and gives how
// many deeds it had acknowledged.
func killed(t *testing.T, o order, after time.Duration) (acked int) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childOf+"="+o.String())
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	acked = o.from
	var timer *time.Timer
	for lines := bufio.NewReader(out); ; {
		line, err := lines.ReadString('\n')
		if err != nil { // a line that is not whole is no acknowledgement
			break
		}
		if timer == nil {
			timer = time.AfterFunc(after, func() { cmd.Process.Kill() })
		}
		if n, ok := deedOf(strings.TrimSpace(line), "done"); ok {
			acked = n + 1
		} else if !strings.HasPrefix(line, "begun") {
			t.Errorf("the child said %q", line)
		}
	}
	cmd.Wait()
	return acked
}
