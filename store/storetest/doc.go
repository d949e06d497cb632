// Package storetest is what any store must do, written once as tests, and a
// store in memory that does it.
//
// Run is given to every implementation, so that the one in memory, which other
// packages' tests lean on, cannot drift from the one on disk. Ledger is the
// same for documents alone.
//
// The package is for tests only. It does not know the store on disk: whoever
// tests an implementation hands it in.
package storetest
