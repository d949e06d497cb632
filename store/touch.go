package store

import (
	"fmt"
	"sort"

	"go.etcd.io/bbolt"
)

// bbolt believes a page's head when it writes the page anew: it frees as many
// pages as that runs on over, which one bent bit makes 2^28, or those of others;
// it copies keys as long as they say they are; and it looks for the entry above
// by the page's first key, and leaves that entry behind where there is another.
// So whatever a transaction will take into memory is looked at before.

// touch looks at the pages that bbolt takes into memory when the value under a
// key changes, or the bucket's sequence where the key is nil; with beside also
// at those that it may put together with them when something is deleted. What
// is wrong with them is a *Damage, and then nothing was changed.
func (t *txn) touch(at source, key []byte, beside bool) error {
	if err := t.pages.touch(at, key, beside); err != nil {
		return &Damage{File: t.s.path, Bucket: at.String(), Err: fmt.Errorf("nothing is written there: %w", err)}
	}
	return nil
}

// sound looks at the pages that lead to a key, for who did not find it there.
func sound(tx *bbolt.Tx, at source, key []byte) error {
	m := mappedBy(tx)
	return m.touch(at, key, false)
}

func (m *mapped) touch(at source, key []byte, beside bool) error {
	p, err := m.page(m.root, nil)
	for _, name := range [...]string{at.bucket, at.shelf} {
		if err != nil || name == "" {
			continue
		}
		if p, err = m.way(p, []byte(name), false); err != nil {
			return err
		}
		i := p.search([]byte(name))
		if i == p.count || string(p.entry(i).key) != name || !p.entry(i).bucket {
			return nil // it is made in this transaction, or bbolt says that it is none
		}
		p, err = m.rootOf(p.entry(i).value, p.id)
	}
	if err == nil && key != nil {
		_, err = m.way(p, key, beside)
	}
	return err
}

// way looks at the pages from a root to the leaf that has a key, or would, and
// gives that. With beside it looks also at those that lie before and after each
// in its level, under whatever page: where bbolt has emptied what lay between,
// it puts these together. Of branches that may go on to the next but one. They
// were all looked through when the file was opened, and what is written of them
// since is sound.
func (m *mapped) way(p sheet, key []byte, beside bool) (sheet, error) {
	var before, after sheet // those beside p; of no entries: none
	for range deepest {
		if p.flags == leafPage {
			return p, nil
		}
		i := p.toward(key)
		below, err := m.below(p, i)
		if err == nil && beside {
			before, after, err = m.besides(before, p, after, i)
		}
		if err != nil {
			return p, err
		}
		p = below
	}
	return p, fmt.Errorf("page %d: a branch %d levels deep", p.id, deepest)
}

// besides are the pages before and after the i-th below p, given those beside p.
func (m *mapped) besides(before, p, after sheet, i int) (b, a sheet, err error) {
	switch {
	case i > 0:
		b, err = m.below(p, i-1)
	case before.count > 0:
		b, err = m.below(before, before.count-1)
	}
	switch {
	case err != nil:
	case i+1 < p.count:
		a, err = m.below(p, i+1)
	case after.count > 0:
		a, err = m.below(after, 0)
	}
	return b, a, err
}

// below is the page that the i-th entry of a branch leads to.
func (m *mapped) below(p sheet, i int) (sheet, error) {
	if p.flags != branchPage {
		return p, fmt.Errorf("page %d: a leaf where a branch should be", p.id)
	}
	e := p.entry(i)
	return m.page(e.child, e.key)
}

// search is the first entry whose key is not before a key.
func (p sheet) search(key []byte) int {
	return sort.Search(p.count, func(i int) bool { return string(p.entry(i).key) >= string(key) })
}

// toward is the entry of a branch that leads to a key.
func (p sheet) toward(key []byte) int {
	i := p.search(key)
	if i == p.count || i > 0 && string(p.entry(i).key) != string(key) {
		i--
	}
	return i
}
