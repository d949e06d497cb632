package proof

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"lentic/collector/aquarium"
	"lentic/store"
)

// sample is a closed database with all there is in one: blocks, sums, a log,
// documents, odd things; and what it holds.
type sample struct {
	t     *testing.T
	c     course
	deeds int
	file  []byte
	want  state
	then  state // when it has gone on
	// stay are the readings that going on does not change, and worse is how
	// often fewer of them were there then.
	stay  map[aquarium.SensorKey][]aquarium.Reading
	worse int
}

// further is how many deeds are done to a spoilt file.
const further = 9

func newSample(t *testing.T) *sample {
	t.Helper()
	x := &sample{t: t, c: courseNamed("mixed"), deeds: 150, stay: map[aquarium.SensorKey][]aquarium.Reading{}}
	y := newStory(t, x.c)
	x.want, x.then = y.after(x.deeds), y.after(x.deeds+further)
	for k, rs := range x.want.Series {
		x.stay[k] = both(rs, x.then.Series[k])
	}
	x.file = x.c.after(t, x.deeds)
	x.file = x.file[:used(t, x.file)] // bbolt makes a file longer in advance
	return x
}

// used is how far the file's pages reach.
func used(t *testing.T, file []byte) (size int64) {
	t.Helper()
	path := filepath.Join(quickDir(t), "lentic.db")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.View(func(tx *bbolt.Tx) error { size = tx.Size(); return nil }); err != nil {
		t.Fatal(err)
	}
	return size
}

// patience is how long any answer may take on a spoilt file.
const patience = 20 * time.Second

// outcome is what became of a spoilt file.
type outcome string

const (
	refused outcome = "refused when opened"
	named   outcome = "named when read"
	found   outcome = "found by a check at work"
	search  outcome = "found by a check of the file"
	unseen  outcome = "without effect"
	silent  outcome = "something missing without a word"
	ruinous outcome = "something lost by going on, without a word"
)

// examine opens a spoilt file, reads all of it, and goes on. A wrong or
// invented value fails the test, as does a panic or waiting too long.
func (x *sample) examine(file []byte, what string) outcome {
	x.t.Helper()
	dir := quickDir(x.t)
	defer os.RemoveAll(dir)
	if err := lay(dir, map[string][]byte{"lentic.db": file}); err != nil {
		x.t.Fatal(err)
	}
	done := make(chan outcome, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				x.t.Errorf("%s: panic: %v", what, p)
			}
			close(done)
		}()
		done <- x.read(filepath.Join(dir, "lentic.db"), what)
	}()
	select {
	case o := <-done:
		return o
	case <-time.After(patience):
		x.t.Fatalf("%s: no answer within %s", what, patience)
	}
	return ""
}

func (x *sample) read(path, what string) outcome {
	searched := whole(path)
	if searched != nil && !errors.Is(searched, store.ErrDamaged) && !errors.Is(searched, store.ErrNotOurs) && !errors.Is(searched, store.ErrNewerFormat) {
		x.t.Errorf("%s: check of the file: %v", what, searched)
	}
	var now atomic.Int64
	now.Store(int64(x.deeds))
	s, err := x.c.open(path, &now)
	if err != nil {
		if !errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrNotOurs) && !errors.Is(err, store.ErrNewerFormat) {
			x.t.Errorf("%s: open: %v: neither damaged nor foreign", what, err)
		}
		return refused
	}
	defer s.Close()
	was, lost, told := x.look(s, x.want, what)
	check := s.Check()
	if check != nil && !errors.Is(check, store.ErrDamaged) {
		x.t.Errorf("%s: check: %v", what, check)
	}
	is, gone, toldThen := x.goOn(s, &now, what)
	if is < was {
		x.worse++
	}
	switch {
	case told:
		return named
	case check != nil:
		return found
	case searched != nil:
		return search
	case lost != "":
		x.t.Errorf("%s: %s: %s", what, silent, lost)
		return silent
	case toldThen:
		return named
	case gone != "":
		x.t.Errorf("%s: %s: %s", what, ruinous, gone)
		return ruinous
	}
	return unseen
}

// goOn does further deeds, as a daemon would that noticed nothing, and reads
// again in a store that is opened anew.
func (x *sample) goOn(s *store.Store, now *atomic.Int64, what string) (there int, lost string, told bool) {
	for n := x.deeds; n < x.deeds+further; n++ {
		now.Store(int64(n))
		if err := x.c.deed(n).do(s); err != nil {
			if !errors.Is(err, store.ErrDamaged) && !errors.Is(err, store.ErrDisk) {
				x.t.Errorf("%s: going on: %v", what, err)
			}
			break
		}
	}
	s.Seal() // as far as it can
	s.Close()
	s, err := x.c.open(s.Path(), now)
	if err != nil {
		return 0, "", true
	}
	defer s.Close()
	return x.look(s, x.then, what+", having gone on")
}

// look reads all, and tells how many readings there are of those that stay,
// what is missing, and whether a word was said about it.
func (x *sample) look(s *store.Store, want state, what string) (there int, lost string, told bool) {
	got, err := read(s)
	if err != nil {
		if !errors.Is(err, store.ErrDamaged) && !strings.Contains(err.Error(), "readings, but") && !strings.Contains(err.Error(), "first ") {
			x.t.Errorf("%s: %v", what, err)
		}
		told = errors.Is(err, store.ErrDamaged)
	}
	// After something was lost a late value may stand where an older one did.
	if err := got.within(want.contents); err != nil && (x.then.within(got) == nil || !strings.Contains(what, "gone on")) {
		x.t.Errorf("%s: wrong: %v", what, err)
	}
	for k, doc := range got.Documents {
		// A document has one value only, so an older one is seen to be older
		// only where the whole file is as it was before.
		if w, ok := want.Documents[k]; !strings.Contains(what, "gone on") && !strings.Contains(what, string(metaNow)) && (!ok || w != doc) {
			x.t.Errorf("%s: document %s is %s, want %s", what, k, doc, w)
		}
	}
	if !got.same(want.contents) {
		lost = got.differs(want.contents)
	}
	for k, stay := range x.stay {
		there += len(both(got.Series[k], stay))
	}
	return there, lost, told
}

// both are the readings that are in one series and in the other.
func both(a, b []aquarium.Reading) (rs []aquarium.Reading) {
	i := 0
	for _, r := range a {
		for i < len(b) && b[i].At < r.At {
			i++
		}
		if i < len(b) && b[i] == r {
			rs = append(rs, r)
		}
	}
	return rs
}

// bent counts what became of spoilt files, by where they were spoilt.
type bent map[region]map[outcome]int

func (b bent) add(r region, o outcome) {
	if b[r] == nil {
		b[r] = map[outcome]int{}
	}
	b[r][o]++
}

func (b bent) tell(t *testing.T) {
	for _, r := range slices.Sorted(maps.Keys(b)) {
		var parts []string
		for _, o := range slices.Sorted(maps.Keys(b[r])) {
			parts = append(parts, fmt.Sprintf("%d %s", b[r][o], o))
		}
		t.Logf("%s: %s", r, strings.Join(parts, ", "))
	}
}

// TestFlippedBits flips one bit, many times over: half of them anywhere in the
// file, half in what bbolt itself needs, as many in each kind of it; that has no
// checksums. A value is
// never wrong, an answer always comes, and what is missing is told.
func TestFlippedBits(t *testing.T) {
	x := newSample(t)
	regions, err := layout(x.file)
	if err != nil {
		t.Fatal(err)
	}
	bones := map[region][]int{}
	for i, r := range regions {
		if r != values && r != freeBytes {
			bones[r] = append(bones[r], i)
		}
	}
	kinds := slices.Sorted(maps.Keys(bones))
	rnd := rand.New(rand.NewPCG(9, 9))
	counts := bent{}
	n := scaled(400, 10_000)
	for i := range n {
		at := rnd.IntN(len(x.file))
		if i%2 == 0 {
			bytes := bones[kinds[i/2%len(kinds)]]
			at = bytes[rnd.IntN(len(bytes))]
		}
		x.flip(at, rnd.IntN(8), regions, counts)
	}
	t.Logf("%d bits in a file of %d KiB", n, len(x.file)>>10)
	counts.tell(t)
}

// flip examines the file with one bit changed, and counts what became of it.
func (x *sample) flip(at, bit int, regions []region, counts bent) {
	x.t.Helper()
	file := slices.Clone(x.file)
	file[at] ^= 1 << bit
	what := fmt.Sprintf("bit %d of byte %d, %s, %q", bit, at, regions[at], x.file[max(0, at-24):min(len(x.file), at+24)])
	before := x.worse
	o := x.examine(file, what)
	counts.add(regions[at], o)
	if x.worse > before {
		counts.add(regions[at], "of these "+o+", and more lost by going on")
	}
}

// TestBentElements flips each bit, or some, of what tells bbolt where keys and
// values lie: one of them hides a key from being deleted, makes a bucket of a
// value, or lets a key reach over half a gigabyte.
func TestBentElements(t *testing.T) {
	x := newSample(t)
	regions, err := layout(x.file)
	if err != nil {
		t.Fatal(err)
	}
	var lengths, bits []int // of keys on pages above others; all
	for i, r := range regions {
		if r != element {
			continue
		}
		above := x.file[i&^(pageSize-1)+8]&1 != 0
		for bit := range 8 {
			if bits = append(bits, 8*i+bit); above && i%16 == 4 {
				lengths = append(lengths, 8*i+bit)
			}
		}
	}
	counts := bent{}
	for _, bit := range lengths {
		x.flip(bit/8, bit%8, regions, counts)
	}
	n := scaled(200, len(bits))
	for i := range n {
		bit := bits[i*len(bits)/n]
		x.flip(bit/8, bit%8, regions, counts)
	}
	t.Logf("%d bits of %d, and %d of the lengths of keys above others", n, len(bits), len(lengths))
	counts.tell(t)
}

// TestCutOff cuts the file at every byte of its last 64 KiB, or some of them.
func TestCutOff(t *testing.T) {
	x := newSample(t)
	counts := bent{}
	n := scaled(100, 64<<10)
	for i := range n {
		cut := 1 + i*(64<<10)/n
		counts.add("the end", x.examine(x.file[:len(x.file)-cut], fmt.Sprintf("cut off the last %d bytes", cut)))
	}
	counts.tell(t)
}
