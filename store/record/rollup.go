package record

import (
	"encoding/binary"
	"fmt"

	"lentic/collector/aquarium"
	"lentic/store/column"
)

// Rollup is the rows of one series in one unit within a rollup value.
type Rollup struct {
	Series uint32
	Unit   aquarium.Unit
	Rows   []column.Row
}

const rollupKind = 3

// EncodeRollups writes the rows of a group, each step long, under key.
func EncodeRollups(key []byte, step int64, rs []Rollup) []byte {
	head := binary.AppendUvarint([]byte{rollupKind}, uint64(step))
	head = binary.AppendUvarint(head, uint64(len(rs)))
	var body []byte
	for _, r := range rs {
		b := column.AppendRows(nil, step, r.Rows)
		head = binary.AppendUvarint(head, uint64(r.Series))
		head = appendString(head, string(r.Unit))
		head = binary.AppendUvarint(head, uint64(len(r.Rows)))
		head = binary.AppendUvarint(head, uint64(len(b)))
		body = append(body, b...)
		body = binary.LittleEndian.AppendUint32(body, checksum(key, b))
	}
	head = binary.LittleEndian.AppendUint32(head, checksum(key, head))
	return append(head, body...)
}

// DecodeRollups reads the rows of the series, of every series where it is 0.
// Where one cannot be read, the others are given beside the error.
func DecodeRollups(key, value []byte, series uint32) ([]Rollup, error) {
	r := reader{b: value}
	if kind := r.byte(); r.err == nil && kind != rollupKind {
		return nil, fmt.Errorf("%w: rollup of kind %d, want %d", ErrCorrupt, kind, rollupKind)
	}
	r.uvarint() // step: each column has it too
	n := r.length(value)
	type placed struct {
		Rollup
		rows uint64
		section
	}
	var ps []placed
	at := 0
	for range n {
		p := placed{Rollup: Rollup{Series: uint32(r.uvarint()), Unit: aquarium.Unit(r.string())}, rows: r.uvarint()}
		p.section = section{at: at, len: r.length(value)}
		if r.err != nil {
			return nil, r.err
		}
		at += p.len + sealed
		ps = append(ps, p)
	}
	head := len(value) - len(r.b)
	sum := r.take(sealed)
	switch {
	case r.err != nil:
		return nil, r.err
	case binary.LittleEndian.Uint32(sum) != checksum(key, value[:head]):
		return nil, errChecksum
	case at != len(r.b):
		return nil, fmt.Errorf("%w: %d bytes of rows, want %d", ErrCorrupt, len(r.b), at)
	}
	var rs []Rollup
	var lost error
	for _, p := range ps {
		if series != 0 && p.Series != series {
			continue
		}
		data := r.b[p.at : p.at+p.len]
		if binary.LittleEndian.Uint32(r.b[p.at+p.len:]) != checksum(key, data) {
			lost = fmt.Errorf("series %d: %w", p.Series, errChecksum)
			continue
		}
		rows, err := column.DecodeRows(nil, data, int(min(p.rows, maxColumn)))
		if err != nil {
			lost = fmt.Errorf("%w: series %d: %w", ErrCorrupt, p.Series, err)
			continue
		}
		p.Rows = rows
		rs = append(rs, p.Rollup)
	}
	return rs, lost
}
