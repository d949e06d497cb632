package store_test

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// appendForEver, set to a path, makes the test binary a writer that appends
// batch after batch and prints the number of each that was acknowledged.
const appendForEver = "LENTIC_TEST_APPEND"

// children are what the test binary does instead of testing when one of these
// variables of its environment holds a path.
var children = map[string]func(path string){appendForEver: writeUntilKilled}

func TestMain(m *testing.M) {
	for variable, run := range children {
		if path := os.Getenv(variable); path != "" {
			run(path)
		}
	}
	os.Exit(m.Run())
}

// killedBatch is batch n of the writer: 5 sensors, three readings each.
func killedBatch(n int) aquarium.Batch {
	var b aquarium.Batch
	for i := range 15 {
		b.Readings = append(b.Readings, aquarium.Reading{
			Sensor: key(i % 5), At: base.Add(time.Duration(n*3+i/5) * time.Second), Value: killedValue(n*3+i/5, i%5), Unit: "pH",
		})
	}
	return b
}

func killedValue(second, sensor int) float64 { return float64(second*10 + sensor) }

func writeUntilKilled(path string) {
	s, err := store.Open(path, store.Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	n := 0
	if last, ok := s.Latest(key(0)); ok {
		n = int(last.At.Sub(base)/time.Second)/3 + 1
	}
	for ; ; n++ {
		_, err := s.Append(killedBatch(n), func(tx ledger.Tx, o aquarium.Outcome) error { return tx.Put("marks", "n", n) })
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Stdout.Write(binary.LittleEndian.AppendUint32(nil, uint32(n)))
	}
}

// TestKilled: a writer is killed ten times at random moments. What it had
// acknowledged is there, whole batches only, nothing that was never sent, and
// the document written with a batch is as far as its readings are.
func TestKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	rnd := rand.New(rand.NewPCG(7, 8))
	acknowledged := -1
	for round := range 10 {
		acknowledged = max(acknowledged, killAfter(t, path, time.Duration(20+rnd.IntN(120))*time.Millisecond))
		s, err := store.Open(path, store.Options{})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		batches := countKilled(t, s)
		if batches <= acknowledged {
			t.Errorf("round %d: got batches up to %d, %d was acknowledged", round, batches-1, acknowledged)
		}
		var mark int
		if err := s.View(func(tx ledger.Tx) error { _, err := tx.Get("marks", "n", &mark); return err }); err != nil || mark != batches-1 {
			t.Errorf("round %d: the mark is at %d (%v), the readings at %d", round, mark, err, batches-1)
		}
		if err := s.Check(); err != nil {
			t.Errorf("round %d: %v", round, err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	t.Logf("10 kills, %d batches acknowledged, missing 0, invented 0", acknowledged+1)
}

// killAfter starts a writer, kills it so long after its first acknowledgement,
// and gives the last.
func killAfter(t *testing.T, path string, after time.Duration) (last int) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), appendForEver+"="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	in := bufio.NewReader(out)
	last = -1
	var kill *time.Timer
	for {
		var b [4]byte
		if _, err := in.Read(b[:1]); err != nil {
			break
		}
		if _, err := in.Read(b[1:]); err != nil {
			break
		}
		last = int(binary.LittleEndian.Uint32(b[:]))
		if kill == nil {
			kill = time.AfterFunc(after, func() { cmd.Process.Kill() })
		}
	}
	cmd.Wait()
	if kill == nil {
		t.Fatal("the writer acknowledged nothing")
	}
	return last
}

// countKilled counts the whole batches there are, and finds anything else.
func countKilled(t *testing.T, s *store.Store) int {
	t.Helper()
	lengths := map[int]bool{}
	n := 0
	for sensor := range 5 {
		i := 0
		for _, r := range all(t, s, key(sensor), 0, base.Add(1e6*time.Second)) {
			if r.At != base.Add(time.Duration(i)*time.Second) || r.Value != killedValue(i, sensor) || r.Unit != "pH" {
				t.Fatalf("reading %d of sensor %d: got %+v", i, sensor, r)
			}
			i++
		}
		lengths[i] = true
		n = i / 3
	}
	if len(lengths) != 1 || !lengths[n*3] {
		t.Errorf("a batch is there in part: series of %v readings", lengths)
	}
	return n
}
