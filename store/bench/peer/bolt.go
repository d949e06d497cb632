package peer

import (
	"encoding/binary"

	"go.etcd.io/bbolt"

	"lentic/store/bench/tanks"
)

// Bolt puts each commit into bbolt as one record: the floor of what a commit
// through bbolt can cost.
type Bolt struct {
	db  *bbolt.DB
	buf []byte
	seq uint64
}

var recordsBucket = []byte("records")

// NewBolt makes the file, opened as lentic opens its own.
func NewBolt(path string) (*Bolt, error) {
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{FreelistType: bbolt.FreelistArrayType})
	if err != nil {
		return nil, err
	}
	err = db.Update(func(tx *bbolt.Tx) error {
		_, err := tx.CreateBucket(recordsBucket)
		return err
	})
	if err != nil {
		return nil, err
	}
	return &Bolt{db: db}, nil
}

func (p *Bolt) Name() string { return "bbolt one record" }

func (p *Bolt) Commit(rs []tanks.Reading) error {
	p.buf = Encode(p.buf[:0], rs)
	p.seq++
	return p.db.Update(func(tx *bbolt.Tx) error {
		b := tx.Bucket(recordsBucket)
		b.FillPercent = 1 // keys only ever rise
		return b.Put(binary.BigEndian.AppendUint64(nil, p.seq), p.buf)
	})
}

func (p *Bolt) Close() error { return p.db.Close() }
