package store

import (
	"crypto/sha256"
	"encoding/binary"
)

// digest tells two sets of keys and values apart, in whatever order they are
// read: the sum of the SHA-256 of each, lane by lane. What was added can be
// taken out again.
type digest [4]uint64

func (d *digest) add(at source, k, v []byte) {
	for i, lane := range lanes(at, k, v) {
		d[i] += lane
	}
}

func (d *digest) remove(at source, k, v []byte) {
	for i, lane := range lanes(at, k, v) {
		d[i] -= lane
	}
}

func lanes(at source, k, v []byte) (out digest) {
	h := sha256.New()
	var room [64]byte
	head := room[:0]
	for _, s := range []string{at.bucket, at.shelf} {
		head = append(binary.AppendUvarint(head, uint64(len(s))), s...)
	}
	head = binary.AppendUvarint(head, uint64(len(k)))
	h.Write(head)
	h.Write(k)
	h.Write(v)
	sum := h.Sum(room[:0])
	for i := range out {
		out[i] = binary.LittleEndian.Uint64(sum[8*i:])
	}
	return out
}
