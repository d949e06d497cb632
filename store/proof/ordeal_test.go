package proof

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"

	"lentic/store"
)

// ordeal is one act on the files of a folder that must be done wholly or not
// at all, whatever goes wrong meanwhile.
type ordeal struct {
	name string
	// files are there before.
	files func(t testing.TB) map[string][]byte
	act   func(dir string) error
	// judge looks at what is there afterwards; done says that the act had
	// ended well.
	judge func(t testing.TB, dir string, done bool) error
}

// The database of the ordeals has done so many deeds, its backup more.
const (
	ordealDeeds = 20
	backupDeeds = 45
)

var ordealCourse = courseNamed("mixed")

var ordeals = []ordeal{
	{
		name:  "backup",
		files: func(t testing.TB) map[string][]byte { return map[string][]byte{"lentic.db": filed(t, ordealDeeds)} },
		act: func(dir string) error {
			var now atomic.Int64
			now.Store(ordealDeeds)
			s, err := ordealCourse.open(filepath.Join(dir, "lentic.db"), &now)
			if err != nil {
				return err
			}
			_, err = s.Backup(context.Background(), filepath.Join(dir, "backup.db"), nil)
			return errors.Join(err, s.Close())
		},
		judge: func(t testing.TB, dir string, done bool) error {
			err := holds(t, filepath.Join(dir, "lentic.db"), ordealDeeds)
			backup := filepath.Join(dir, "backup.db")
			if _, e := os.Stat(backup); errors.Is(e, fs.ErrNotExist) && !done {
				return err
			}
			return errors.Join(err, holds(t, backup, ordealDeeds))
		},
	},
	{
		name: "restore",
		files: func(t testing.TB) map[string][]byte {
			return map[string][]byte{"lentic.db": filed(t, ordealDeeds), "backup.db": filed(t, backupDeeds)}
		},
		act: func(dir string) error {
			_, err := store.Restore(context.Background(), filepath.Join(dir, "backup.db"), filepath.Join(dir, "lentic.db"), true, nil, nil)
			return err
		},
		judge: func(t testing.TB, dir string, done bool) error {
			path := filepath.Join(dir, "lentic.db")
			err := holds(t, path, backupDeeds)
			if err != nil && !done {
				err = holds(t, path, ordealDeeds)
			}
			return errors.Join(err, holds(t, filepath.Join(dir, "backup.db"), backupDeeds))
		},
	},
	{
		name:  "migration",
		files: func(t testing.TB) map[string][]byte { return map[string][]byte{"lentic.db": format1(t)} },
		act:   func(dir string) error { return opened1(dir, nil) },
		judge: func(t testing.TB, dir string, _ bool) error {
			// The file is of the old format or of the new, and starting
			// again ends the migration.
			return opened1(dir, func(s *store.Store) error {
				got, err := read(s)
				if err == nil && !got.same(migrated(t)) {
					err = errors.New("migrated: " + got.differs(migrated(t)))
				}
				return errors.Join(err, s.Check())
			})
		},
	},
}

func ordealNamed(name string) ordeal {
	for _, o := range ordeals {
		if o.name == name {
			return o
		}
	}
	panic("no ordeal is named " + name)
}

// run does the act, in the child.
func (o ordeal) run(dir string) int {
	if err := o.act(dir); err != nil {
		say("failed 0 %v", err)
		return status(err)
	}
	say("done 0")
	return 0
}

// cache keeps what is slow to make and always the same.
var cache = map[string]any{}

func cached[T any](name string, make func() T) T {
	if v, ok := cache[name]; ok {
		return v.(T)
	}
	v := make()
	cache[name] = v
	return v
}

func filed(t testing.TB, deeds int) []byte {
	return bytes.Clone(cached(fmt.Sprint("file ", deeds), func() []byte { return ordealCourse.after(t, deeds) }))
}

// holds checks that a database holds what it must after so many deeds, exactly.
func holds(t testing.TB, path string, deeds int) error {
	want := cached(fmt.Sprint("contents ", deeds), func() state { return newStory(t, ordealCourse).after(deeds) })
	var now atomic.Int64
	now.Store(int64(deeds))
	s, err := ordealCourse.open(path, &now)
	if err != nil {
		return err
	}
	got, err := read(s)
	if err == nil && !got.same(want.contents) {
		err = fmt.Errorf("%s: %s", filepath.Base(path), got.differs(want.contents))
	}
	return errors.Join(err, s.Check(), s.Close(), whole(path))
}

func format1(t testing.TB) []byte {
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "store", "format1.db"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// opened1 opens the database that was of format 1.
func opened1(dir string, look func(s *store.Store) error) error {
	s, err := store.Open(filepath.Join(dir, "lentic.db"), store.Options{Reserve: -1, Keep: -1, KeepMinutes: -1})
	if err != nil {
		return err
	}
	if look != nil {
		err = look(s)
	}
	return errors.Join(err, s.Close())
}

// migrated is what a migration gives that nothing befalls.
func migrated(t testing.TB) contents {
	return cached("migrated", func() (c contents) {
		dir := quickDir(t)
		if err := lay(dir, map[string][]byte{"lentic.db": format1(t)}); err != nil {
			t.Fatal(err)
		}
		if err := opened1(dir, func(s *store.Store) (err error) { c, err = read(s); return err }); err != nil {
			t.Fatal(err)
		}
		return c
	})
}

// TestOrdeals: the power is cut after each call of an act, and each of its calls
// goes wrong once. It is then done wholly or not at all.
func TestOrdeals(t *testing.T) {
	for _, o := range ordeals {
		t.Run(o.name, func(t *testing.T) {
			files := o.files(t)
			r, _ := o.strike(t, files, "")
			if r.status != 0 {
				t.Fatalf("the child ended with %d, its last words %q", r.status, lastLines(r.said, 3))
			}
			cuts := o.cutEvery(t, files, r, stride(4))
			all, total := some(r.times(), 25)
			ended := 0
			for _, f := range all {
				if r, wrong := o.strike(t, files, f.String()); wrong != nil {
					t.Errorf("%s: %v; the child ended with %d, its last words %q", f, wrong, r.status, lastLines(r.said, 3))
				} else if r.status != 0 {
					ended++
				}
			}
			t.Logf("%d calls; the power was cut %d times; %d of %d faults, %d ended it; left half-done 0", len(r.events), cuts, len(all), total, ended)
		})
	}
}

// strike has a child do the act with a fault, and judges what it leaves: the
// files as they are, and as they may be when the power is cut then.
func (o ordeal) strike(t testing.TB, files map[string][]byte, fault string) (recording, error) {
	t.Helper()
	dir := quickDir(t)
	defer os.RemoveAll(dir)
	if err := lay(dir, files); err != nil {
		t.Fatal(err)
	}
	r := watch(t, childAct+"="+o.name+" "+dir, fault)
	done := r.acknowledged(0) > 0
	d := o.disk(dir, files)
	for i := range r.events {
		d.do(&r.events[i])
	}
	var wrong error
	for name, replayed := range d.cut(dir, kept, nil) {
		if left, err := os.ReadFile(filepath.Join(dir, name)); !bytes.Equal(left, replayed) {
			wrong = fmt.Errorf("the recording makes %s a file of %d bytes, the child left another of %d (%v)", name, len(replayed), len(left), err)
		}
	}
	wrong = errors.Join(wrong, o.judge(t, dir, done))
	rnd := rand.New(rand.NewPCG(5, 5))
	for _, how := range []fate{dropped, torn, reordered} {
		if err := o.judgeCut(t, d.cut(dir, how, rnd), done); err != nil {
			wrong = errors.Join(wrong, fmt.Errorf("and the power cut, what was not synced being %s: %w", how, err))
		}
	}
	r.dir = dir
	return r, wrong
}

func (o ordeal) disk(dir string, files map[string][]byte) *disk {
	d := newDisk()
	for name, b := range files {
		d.hold(filepath.Join(dir, name), b)
	}
	return d
}

func (o ordeal) judgeCut(t testing.TB, files map[string][]byte, done bool) error {
	dir := quickDir(t)
	defer os.RemoveAll(dir)
	if err := lay(dir, files); err != nil {
		t.Fatal(err)
	}
	return o.judge(t, dir, done)
}

func (o ordeal) cutEvery(t testing.TB, files map[string][]byte, r recording, n int) (cuts int) {
	d := o.disk(r.dir, files)
	rnd := rand.New(rand.NewPCG(6, 6))
	done := false
	for i := range r.events {
		e := &r.events[i]
		if line, ok := e.said(); ok {
			_, ok := deedOf(line, "done")
			done = done || ok
		}
		d.do(e)
		if i%n > 0 && i < len(r.events)-1 {
			continue
		}
		for _, how := range []fate{dropped, kept, torn, reordered, reordered} {
			cuts++
			if err := o.judgeCut(t, d.cut(r.dir, how, rnd), done); err != nil {
				t.Errorf("after call %d, %s, what was not synced %s: %v", i, e.call, how, err)
			}
		}
	}
	return cuts
}
