// Package store keeps what lentic was told: readings as they were received,
// what could not be taken in, and the small documents of every service, in one
// bbolt file that FORMAT.md draws.
//
// What a call has returned without an error is on disk. The first write or
// sync that fails is final: after a failed sync nobody knows what the disk
// holds, so the store refuses every later write with ErrDisk and the process
// must end with nothing acknowledged. Everything read is checked against the
// CRC-32C it was written with; a damaged place is named, and costs only itself.
package store
