package storetest

import (
	"encoding/json"
	"fmt"
	"slices"
	"sync"

	"lentic/store/ledger"
)

// Ledger is a ledger.Ledger in memory. Its methods may be called by any
// goroutine; as with any ledger, a transaction must not be begun inside
// another.
type Ledger struct {
	mu      sync.RWMutex // guards shelves
	shelves map[string]map[string][]byte
}

// NewLedger is an empty ledger.
func NewLedger() *Ledger { return &Ledger{shelves: map[string]map[string][]byte{}} }

// Update runs fn and keeps what it wrote, unless it fails or panics.
func (l *Ledger) Update(fn func(tx ledger.Tx) error) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	t := &tx{l: l, write: true}
	kept := false
	defer func() {
		if !kept {
			t.undo()
		}
	}()
	if err := fn(t); err != nil {
		return err
	}
	kept = true
	return nil
}

// View runs fn over a consistent state.
func (l *Ledger) View(fn func(tx ledger.Tx) error) error {
	l.mu.RLock()
	defer l.mu.RUnlock()
	return fn(&tx{l: l})
}

// tx writes straight into the ledger and remembers what was there before.
type tx struct {
	l      *Ledger
	write  bool
	before []former
}

type former struct {
	shelf, key string
	doc        []byte // nil: there was none
}

func (t *tx) Get(shelf, key string, v any) (bool, error) {
	doc, ok := t.l.shelves[shelf][key]
	if !ok {
		return false, nil
	}
	if err := json.Unmarshal(doc, v); err != nil {
		return true, fmt.Errorf("document %q on shelf %q: %w", key, shelf, err)
	}
	return true, nil
}

func (t *tx) Put(shelf, key string, v any) error {
	if !t.write {
		return ledger.ErrReadOnly
	}
	if shelf == "" || key == "" {
		return fmt.Errorf("put document %q on shelf %q: both names are needed", key, shelf)
	}
	doc, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("put document %q on shelf %q: %w", key, shelf, err)
	}
	t.remember(shelf, key)
	if t.l.shelves[shelf] == nil {
		t.l.shelves[shelf] = map[string][]byte{}
	}
	t.l.shelves[shelf][key] = doc
	return nil
}

func (t *tx) Delete(shelf, key string) error {
	if !t.write {
		return ledger.ErrReadOnly
	}
	t.remember(shelf, key)
	delete(t.l.shelves[shelf], key)
	return nil
}

func (t *tx) Each(shelf, from, to string, fn func(key string, doc []byte) bool) error {
	var keys []string
	for k := range t.l.shelves[shelf] {
		if k >= from && (to == "" || k < to) {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	for _, k := range keys {
		if !fn(k, slices.Clone(t.l.shelves[shelf][k])) {
			return nil
		}
	}
	return nil
}

func (t *tx) remember(shelf, key string) {
	t.before = append(t.before, former{shelf, key, t.l.shelves[shelf][key]})
}

func (t *tx) undo() {
	for _, f := range slices.Backward(t.before) {
		if f.doc == nil {
			delete(t.l.shelves[f.shelf], f.key)
			continue
		}
		t.l.shelves[f.shelf][f.key] = f.doc
	}
}
