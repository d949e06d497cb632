package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"sync"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
)

// dump is everything that a file holds, the writer's stamp and the id apart.
func dump(t testing.TB, path string) map[string]string {
	t.Helper()
	all := map[string]string{}
	db, err := bolt.Open(path, 0o600, &bolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var into func(name string, b *bolt.Bucket)
	into = func(name string, b *bolt.Bucket) {
		all[name+" sequence"] = fmt.Sprint(b.Sequence())
		b.ForEach(func(k, v []byte) error {
			if v == nil {
				into(name+"/"+string(k), b.Bucket(k))
				return nil
			}
			all[name+"/"+string(k)] = string(v)
			return nil
		})
	}
	err = db.View(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bolt.Bucket) error { into(string(name), b); return nil })
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestBackup(t *testing.T) {
	path := fullFile(t)
	s := open(t, path)
	dest := filepath.Join(t.TempDir(), "backup.db")
	steps := map[string]int64{}
	f, err := s.Backup(context.Background(), dest, func(step string, done, total int64) {
		if done > total || done < steps[step] {
			t.Errorf("%s: %d of %d after %d", step, done, total, steps[step])
		}
		steps[step] = done
	})
	if err != nil || f.Err() != nil || f.Documents != 301 || len(steps) != 2 {
		t.Fatalf("got %s, %v, %v, told of %v", f.Read(), f.Err(), err, steps)
	}
	if _, err := s.Backup(context.Background(), dest, nil); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a file: %v", err)
	}
	if info, err := os.Stat(dest); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("got %v, %v", info, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if got, want := dump(t, dest), dump(t, path); !reflect.DeepEqual(got, want) {
		t.Errorf("the backup has %d things, the database %d, or they differ", len(got), len(want))
	}
	if left, _ := filepath.Glob(dest + ".*"); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
	copied := open(t, dest)
	if n := countFull(t, copied); n != fullCount {
		t.Errorf("%d readings, want %d", n, fullCount)
	}
}

// TestBackupMeanwhile makes backups while everything changes that can: each is
// the database as it was at one moment, and goes on as one.
func TestBackupMeanwhile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lentic.db")
	now := fullEnd
	var mu sync.Mutex // guards now
	s, err := store.Open(path, store.Options{Reserve: -1, Keep: 20 * 24 * time.Hour, Now: func() time.Time { mu.Lock(); defer mu.Unlock(); return now.Time() }})
	if err != nil {
		t.Fatal(err)
	}
	fillFull(t, s, base, fullEnd)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	defer wg.Wait()
	defer close(stop)
	wg.Go(func() { // intake, with a mark of how far it is
		r := rand.New(rand.NewPCG(1, 2))
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			default:
			}
			at := fullEnd.Add(time.Duration(n) * 10 * time.Minute)
			b := aquarium.Batch{Arrived: at}
			for i := range 6 {
				b.Readings = append(b.Readings, fullReading(i, at))
			}
			late := fullReading(r.IntN(6), base.Add(-time.Duration(r.IntN(100))*10*time.Minute))
			b.Readings = append(b.Readings, late)
			b.Unclaimed = []aquarium.Unclaimed{{Topic: fmt.Sprint("t", n%3), Payload: bytes.Repeat([]byte{'x'}, 500), Arrived: at}}
			b.Refused = []aquarium.Refusal{{Reason: aquarium.ReasonValue, Source: fmt.Sprint(n % 7), Arrived: at}}
			b.Aside = []aquarium.Aside{{Reading: fullReading(0, 5), Gateway: "gw1", Arrived: at}}
			if _, err := s.Append(b, func(tx ledger.Tx, _ aquarium.Outcome) error {
				return errors.Join(tx.Put("marks", "n", n), tx.Put("journal", fmt.Sprint(n), n), tx.Delete("journal", fmt.Sprint(n-50)))
			}); err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			now = max(now, at)
			mu.Unlock()
		}
	})
	wg.Go(func() { // housekeeping
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			default:
			}
			if _, err := s.Tidy(); err != nil {
				t.Error(err)
				return
			}
			if n%50 == 0 {
				_, err := s.TakeUnclaimed([]string{"t1"}, func([]aquarium.Unclaimed) error { return nil })
				_, err2 := s.ReleaseAside("quillmere-library", "gw1", time.Duration(n+1)*time.Second, nil)
				if err := errors.Join(err, err2); err != nil {
					t.Error(err)
					return
				}
			}
			time.Sleep(time.Millisecond)
		}
	})
	for i := range 3 {
		dest := filepath.Join(t.TempDir(), fmt.Sprint(i, ".db"))
		f, err := s.Backup(context.Background(), dest, nil)
		if err != nil || f.Err() != nil {
			t.Fatal(err, f.Err())
		}
		copied := open(t, dest)
		var mark int
		if err := copied.View(func(tx ledger.Tx) error {
			_, err := tx.Get("marks", "n", &mark)
			journal := 0
			err = errors.Join(err, tx.Each("journal", "", "", func(string, []byte) bool { journal++; return true }))
			if want := min(50, mark+1); journal != want {
				t.Errorf("backup %d: %d entries in the journal, want %d", i, journal, want)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		// All of the commit that the mark is of, and nothing after it.
		want := fullReading(3, fullEnd.Add(time.Duration(mark)*10*time.Minute))
		if got, ok := copied.Latest(fullKey(3)); !ok || got != want {
			t.Errorf("backup %d, at %d: the last reading is %+v, want %+v", i, mark, got, want)
		}
		if rs := all(t, copied, fullKey(3), fullEnd.Add(-24*time.Hour), fullEnd.Add(1e6*time.Hour)); len(rs) != 144+mark+1 {
			t.Errorf("backup %d, at %d: %d readings of the last days, want %d", i, mark, len(rs), 144+mark+1)
		}
		if err := copied.Seal(); err != nil {
			t.Error(err)
		}
		copied.Close()
		if err := checkFile(t, dest).Err(); err != nil {
			t.Errorf("backup %d, sealed: %v", i, err)
		}
	}
	if got := s.LongestRead(); got > store.LongestAllowed {
		t.Errorf("a read transaction took %s", got)
	}
}

// TestBackupBreaksOff: a backup that cannot be finished leaves nothing, or what
// the next one removes.
func TestBackupBreaksOff(t *testing.T) {
	s := open(t, fullFile(t))
	dest := filepath.Join(t.TempDir(), "backup.db")
	var stream bytes.Buffer
	if err := s.Copy(context.Background(), &stream); err != nil {
		t.Fatal(err)
	}
	whole := stream.Bytes()
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 20 {
		cut := rnd.IntN(len(whole))
		if _, err := store.ReadCopy(context.Background(), dest, bytes.NewReader(whole[:cut]), nil); !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("cut to %d bytes of %d: %v", cut, len(whole), err)
		}
		bent := bytes.Clone(whole)
		bent[cut] ^= 1 << rnd.IntN(8)
		if _, err := store.ReadCopy(context.Background(), dest, bytes.NewReader(bent), nil); err == nil {
			t.Errorf("byte %d of %d is another, and nobody sees it", cut, len(whole))
			os.Remove(dest)
		}
	}
	if left, _ := filepath.Glob(dest + "*"); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
	ctx, cancel := context.WithCancel(context.Background())
	_, err := s.Backup(ctx, dest, func(step string, done, total int64) { cancel() })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if err := os.WriteFile(dest+".partial", []byte("left by one that was killed"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Backup(context.Background(), dest, nil); err != nil {
		t.Error(err)
	}
	if left, _ := filepath.Glob(dest + "*"); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
	if _, err := s.Backup(context.Background(), filepath.Join(dest, "no", "folder"), nil); err == nil {
		t.Error("a backup into nowhere")
	}
}

// TestBackupOfDamage: one damaged value is no reason to have no backup.
func TestBackupOfDamage(t *testing.T) {
	path, _, _ := damagedFile(t)
	s := open(t, path)
	dest := filepath.Join(t.TempDir(), "backup.db")
	f, err := s.Backup(context.Background(), dest, nil)
	if err != nil || f.Damaged != 2 {
		t.Fatalf("got %v, %v; want the block and the document", err, f.Err())
	}
	s.Close()
	if got, want := dump(t, dest), dump(t, path); !reflect.DeepEqual(got, want) {
		t.Error("the backup is not what the database is")
	}
}

func TestRestore(t *testing.T) {
	src := fullFile(t)
	before, err := os.ReadFile(src)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "lentic.db")
	restore := func(overwrite bool) (store.Restored, error) {
		return store.Restore(context.Background(), src, path, overwrite, func(s *store.Store) error {
			return s.Update(func(tx ledger.Tx) error { return tx.Put("alarms", "a", "prepared") })
		}, nil)
	}
	r, err := restore(false)
	if err != nil || r.Over || r.OldID == r.NewID || len(r.NewID) != 32 || !r.Newest.Equal(fullEnd.Add(-10*time.Minute).Time()) {
		t.Fatalf("got %+v, %v", r, err)
	}
	if after, _ := os.ReadFile(src); !bytes.Equal(after, before) {
		t.Error("the backup was changed")
	}
	s := open(t, path)
	if s.ID() != r.NewID || countFull(t, s) != fullCount {
		t.Errorf("restored: id %s, want %s", s.ID(), r.NewID)
	}
	var doc string
	s.View(func(tx ledger.Tx) error { _, err := tx.Get("alarms", "a", &doc); return err })
	if doc != "prepared" {
		t.Errorf("document: %q", doc)
	}
	if _, err := restore(true); !errors.Is(err, store.ErrLocked) {
		t.Errorf("under a running one: %v", err)
	}
	if _, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{fullReading(0, fullEnd)}}, nil); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := restore(false); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a database: %v", err)
	}
	again, err := restore(true)
	if err != nil || !again.Over || again.NewID == r.NewID {
		t.Errorf("told to: %+v, %v", again, err)
	}
	if n := countFull(t, open(t, path)); n != fullCount {
		t.Errorf("%d readings, want %d", n, fullCount)
	}
	bad, _, _ := damagedFile(t)
	fresh := filepath.Join(t.TempDir(), "lentic.db")
	if _, err := store.Restore(context.Background(), bad, fresh, false, nil, nil); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("a damaged one: %v", err)
	}
	no := errors.New("no")
	if _, err := store.Restore(context.Background(), src, fresh, false, func(*store.Store) error { return no }, nil); !errors.Is(err, no) {
		t.Errorf("prepare fails: %v", err)
	}
	if left, _ := filepath.Glob(fresh + "*"); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}
