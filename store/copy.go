package store

import (
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"maps"
	"slices"

	"go.etcd.io/bbolt"
)

// A copy is the database as it was at one moment, key by key, in a stream that
// may go to another process. It is made in steps, for none of which intake
// waits: first everything, then what has changed meanwhile, again and again
// until that is little, and at last, in one short read transaction, what has
// changed since: with that the copy is as of that moment.
//
// In the stream are copyHead, the database's size, then items, each a byte that
// says what it is:
//
//	p  bucket, shelf, key, value: put
//	d  bucket, shelf, key: what was put is gone
//	s  bucket, number: the bucket's sequence
//	e  the CRC-32C of all that came before: the end
//
// Each part is its length as an unsigned varint, then its bytes; numbers are
// unsigned varints, the CRC is four bytes.
const copyHead = "lentic copy 1\n"

const (
	// copyClose is how many changed keys are few enough for the last step.
	copyClose = 500
	// copyRounds bounds how often the changed ones are gone through first.
	copyRounds = 50
)

// copying is one copy on its way.
type copying struct {
	changed map[changedKey]bool // since it was last gone through; guarded by Store.writing
}

type changedKey struct {
	at  source
	key string
}

// Copy writes the database to w, as of one moment near the end, for ReadCopy to
// make a file of. It may take as long as it takes; intake goes on. An error is
// ctx's, w's, or says what cannot be read; without the end of the stream nothing
// is a copy.
func (s *Store) Copy(ctx context.Context, w io.Writer) error {
	c := &copying{changed: map[changedKey]bool{}}
	s.writing.Lock()
	s.copies = append(s.copies, c)
	s.writing.Unlock()
	defer func() {
		s.writing.Lock()
		s.copies = slices.DeleteFunc(s.copies, func(o *copying) bool { return o == c })
		s.writing.Unlock()
	}()
	out := &copyWriter{w: w}
	out.buf = binary.AppendUvarint(append(out.buf, copyHead...), uint64(s.Size()))
	sources, err := s.sources()
	if err != nil {
		return err
	}
	for _, at := range sources {
		err := s.walk(ctx, at, nil, func(k, v []byte) error {
			out.put(at, k, v)
			return nil
		}, func(more bool) error {
			if err := out.flush(); err != nil || !more {
				return err
			}
			return sleep(ctx, tidyPause) // intake goes first
		})
		if err != nil {
			return err
		}
	}
	return s.closeCopy(ctx, c, out)
}

// closeCopy goes through what has changed until it is little, and then ends.
func (s *Store) closeCopy(ctx context.Context, c *copying, out *copyWriter) error {
	for round := 0; ; round++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		done, err := s.copyChanged(c, out, round == copyRounds)
		if err != nil {
			return err
		}
		if err := out.flush(); err != nil {
			return err
		}
		if done {
			return out.end()
		}
	}
}

// copyChanged copies the keys that have changed; if they are few, in the read
// transaction that the copy is as of.
func (s *Store) copyChanged(c *copying, out *copyWriter, last bool) (done bool, err error) {
	s.writing.Lock()
	changed := c.changed
	c.changed = map[changedKey]bool{}
	tx, end, err := s.reader() // as of this very moment
	s.writing.Unlock()
	if err != nil {
		return false, err
	}
	keys := slices.SortedFunc(maps.Keys(changed), func(a, b changedKey) int {
		return cmp.Or(cmp.Compare(a.at.bucket, b.at.bucket), cmp.Compare(a.at.shelf, b.at.shelf), cmp.Compare(a.key, b.key))
	})
	if done = last || len(keys) <= copyClose; done {
		defer end()
		return true, guard(s.path, nil, func() error {
			out.all(tx, keys)
			return out.sequences(tx)
		})
	}
	end()
	for some := range slices.Chunk(keys, copyClose) {
		err := s.read(func(tx *bbolt.Tx) error { out.all(tx, some); return nil })
		if err == nil {
			err = out.flush()
		}
		if err != nil {
			return false, err
		}
	}
	return false, nil
}

// copyWriter gathers items, and writes them once no transaction is open.
type copyWriter struct {
	w   io.Writer
	buf []byte
	crc uint32
}

func (o *copyWriter) part(b []byte) {
	o.buf = append(binary.AppendUvarint(o.buf, uint64(len(b))), b...)
}

func (o *copyWriter) put(at source, k, v []byte) {
	o.buf = append(o.buf, 'p')
	o.part([]byte(at.bucket))
	o.part([]byte(at.shelf))
	o.part(k)
	o.part(v)
}

// all gathers what lies under these keys now.
func (o *copyWriter) all(tx *bbolt.Tx, keys []changedKey) {
	for _, c := range keys {
		var v []byte
		if b := c.at.in(tx); b != nil {
			v = b.Get([]byte(c.key))
		}
		if v != nil {
			o.put(c.at, []byte(c.key), v)
			continue
		}
		o.buf = append(o.buf, 'd')
		o.part([]byte(c.at.bucket))
		o.part([]byte(c.at.shelf))
		o.part([]byte(c.key))
	}
}

func (o *copyWriter) sequences(tx *bbolt.Tx) error {
	for _, name := range buckets {
		b := tx.Bucket(name)
		if b == nil {
			return fmt.Errorf("bucket %s: %w: it is not there", name, ErrDamaged)
		}
		o.buf = append(o.buf, 's')
		o.part(name)
		o.buf = binary.AppendUvarint(o.buf, b.Sequence())
	}
	return nil
}

func (o *copyWriter) flush() error {
	o.crc = crc32.Update(o.crc, copyTable, o.buf)
	_, err := o.w.Write(o.buf)
	o.buf = o.buf[:0]
	return err
}

func (o *copyWriter) end() error {
	o.buf = append(o.buf, 'e')
	o.crc = crc32.Update(o.crc, copyTable, o.buf)
	_, err := o.w.Write(binary.LittleEndian.AppendUint32(o.buf, o.crc))
	return err
}

var copyTable = crc32.MakeTable(crc32.Castagnoli)
