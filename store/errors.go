package store

import (
	"encoding/hex"
	"errors"
	"fmt"

	"lentic/collector/aquarium"
)

// What Open can answer. Each comes wrapped with the file and the remedy.
var (
	// ErrNotOurs: the file exists and lentic did not write it.
	ErrNotOurs = errors.New("not a lentic database")
	// ErrNewerFormat: a newer lentic wrote the file. It has not been touched.
	ErrNewerFormat = errors.New("written by a newer lentic")
	// ErrLocked: another process has the file open.
	ErrLocked = errors.New("database is in use")
)

var (
	// ErrDamaged: bytes are not what was written. A *Damage says where.
	ErrDamaged = errors.New("database is damaged")
	// ErrDisk: a write, sync or commit failed. The store takes no more; the
	// process must end, having acknowledged nothing since.
	ErrDisk = errors.New("the disk failed")
	// ErrFull: the disk has no room for readings. Nothing was written and
	// nothing has failed: the same batch may be offered again once there is
	// room, and documents are still taken. Whoever cannot wait may treat it
	// as the ErrDisk that it also is.
	ErrFull = fmt.Errorf("no room for readings: %w", ErrDisk)
	// ErrReadOnly: the store was opened for reading.
	ErrReadOnly = errors.New("database is open for reading only")
	// ErrClosed: the store was closed.
	ErrClosed = errors.New("database is closed")
)

// Damage is one damaged place. It is an ErrDamaged.
type Damage struct {
	File   string
	Bucket string
	Key    []byte // nil: the whole bucket, or pages below any
	// Until, where it is not nil, is the first key after a gap that begins
	// at Key.
	Until []byte
	// Offset is where the value, or the page, lies in the file; 0 where that
	// is not known.
	Offset int64
	// Sensor, From and To say whose readings it costs, From <= At < To. Only
	// its tank is named where it costs those of the whole tank, and nobody
	// where it costs anybody's; a zero To is not known, nor is a zero From.
	Sensor   aquarium.SensorKey
	From, To aquarium.Instant
	Err      error // what was found
}

func (d *Damage) Error() string {
	s := fmt.Sprintf("%s: %v: ", d.File, ErrDamaged)
	if d.Bucket != "" {
		s += "bucket " + d.Bucket + ": "
	}
	switch {
	case d.Key != nil && d.Until != nil:
		s += "keys " + printable(d.Key) + " to " + printable(d.Until) + ": "
	case d.Key != nil:
		s += "key " + printable(d.Key) + ": "
	}
	if d.Offset != 0 {
		s += fmt.Sprintf("offset %d: ", d.Offset)
	}
	return s + d.costs() + d.Err.Error()
}

// costs says whose readings are lost.
func (d *Damage) costs() string {
	if d.Sensor == (aquarium.SensorKey{}) && d.From == 0 && d.To == 0 {
		return ""
	}
	s := "readings"
	switch {
	case d.Sensor.Sensor != "":
		s += fmt.Sprintf(" of %s", d.Sensor)
	case d.Sensor.Tank != "":
		s += fmt.Sprintf(" of %s", d.Sensor.TankKey())
	}
	if d.From != 0 {
		s += fmt.Sprintf(" from %s", d.From)
	}
	if d.To != 0 {
		s += fmt.Sprintf(" to %s", d.To)
	}
	return s + ": "
}

// Unwrap lets errors.Is find ErrDamaged and what was found.
func (d *Damage) Unwrap() []error { return []error{ErrDamaged, d.Err} }

func printable(key []byte) string {
	for _, c := range key {
		if c < ' ' || c > '~' {
			return hex.EncodeToString(key)
		}
	}
	return fmt.Sprintf("%q", key)
}
