// Package record turns what lentic keeps into bytes on disk and back:
// readings in blocks, and what was set aside, left unclaimed, refused or in
// conflict one by one. Every value carries a CRC-32C over its own key and
// content, so that a flipped bit, or a value found under another's key, is an
// error and never a reading.
//
// The package is pure: it knows no file and no database. What the bytes look
// like is drawn in FORMAT.md beside package store; Format is its number.
package record
