// Package ledger is how services keep small documents: alarms, the outbox, how
// far each site has been judged, the journal, accounts. Readings are not
// documents; they have a layout of their own.
//
// What is written in one Update is on disk together or not at all. Documents
// are JSON, so that a keeper can read what lentic knows with common tools.
//
// The package holds the interfaces only and imports the standard library only:
// whoever keeps documents (package store, or a map in a test) meets them, and
// whoever needs them names no database.
package ledger

import "errors"

// ErrReadOnly is returned by Put and Delete within a View.
var ErrReadOnly = errors.New("ledger: read-only transaction")

// Ledger runs transactions one after another.
type Ledger interface {
	// Update runs fn and commits what it wrote; when fn or the commit
	// fails nothing is kept. fn runs once and must not keep tx.
	Update(fn func(tx Tx) error) error
	// View runs fn over a consistent state.
	View(fn func(tx Tx) error) error
}

// Tx reads and writes documents by shelf and key. Shelves exist once something
// is put there. It may be used by one goroutine only.
type Tx interface {
	// Get decodes the document into v and reports whether there was one.
	Get(shelf, key string, v any) (bool, error)
	// Put encodes v as JSON and replaces the document.
	Put(shelf, key string, v any) error
	// Delete removes the document; none there is not an error.
	Delete(shelf, key string) error
	// Each calls fn for the documents whose keys are from <= key < to, in
	// the order of their bytes, until it returns false; an empty to means
	// no end. doc is valid during the call only. fn must not write.
	Each(shelf, from, to string, fn func(key string, doc []byte) bool) error
}
