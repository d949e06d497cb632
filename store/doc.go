// Package store keeps what lentic must not lose, in one bbolt file: readings
// as they were received, what could not be taken, and the small documents of
// the other services. FORMAT.md draws the file byte by byte.
//
// What Append returns without an error is on disk. The first value for a
// sensor and a time stands, so a batch may be appended twice. When a write,
// sync or commit fails once, nothing more is written: every later write gets
// the same ErrDisk, for what the kernel did with the pages it failed to write
// is not known any more. A disk without room is noticed before it comes to
// that, and what is left is kept for documents: an alarm about it still gets
// out.
//
// A commit is one log record. What is in the log is in memory too, packed by
// series; when a stretch of twelve hours is over, Tidy seals a tank's readings
// of it into one block and sums them up for charts. Run does so beside the
// rest.
//
// Damage costs only what was damaged: columns of readings and documents carry
// checksums, a bad one is an ErrDamaged that names its place, and the rest
// stays readable. The tree of pages above them is looked through when the file
// is opened, so that a bent pointer is an error and not a hang.
//
// What takes long goes in steps and beside the rest: Import, Backup, Inspect. No
// read transaction is long, for a long one makes the file grow. CheckFile and
// Salvage work on a file that nobody writes to, whether it opens or not; Restore
// puts a backup in its place.
package store
