package store

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"path/filepath"
)

// Backup makes a copy of the database at dest while it is at work: complete as
// of one moment near the end, read back from the disk and compared, and only
// then named dest. A file that is there is never written over: fs.ErrExist. What
// is left of an interrupted one is dest.partial, which the next one removes.
//
// A damaged value is copied as it is; the findings name it, as they say what the
// backup holds. progress, where it is not nil, is told of bytes written and of
// how many there are, first while it is made, then while it is read back.
func (s *Store) Backup(ctx context.Context, dest string, progress func(step string, done, total int64)) (Findings, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	r, w := io.Pipe()
	copied := make(chan error, 1)
	go func() {
		err := s.Copy(ctx, w)
		w.CloseWithError(err)
		copied <- err
	}()
	f, err := ReadCopy(ctx, dest, r, progress)
	stop()
	r.CloseWithError(err)
	if c := <-copied; c != nil && err != nil && !errors.Is(c, context.Canceled) {
		err = c // what ended the copy, and not what that led to
	}
	return f, err
}

// What progress is told of.
const (
	StepCopy     = "copying"
	StepReadBack = "reading back"
)

// ReadCopy makes a database at dest of what Copy wrote, as Backup does. Where
// the stream breaks off nothing is left of it.
func ReadCopy(ctx context.Context, dest string, r io.Reader, progress func(step string, done, total int64)) (f Findings, err error) {
	m, err := newMaking(dest)
	if err != nil {
		return f, err
	}
	defer func() { err = errors.Join(err, m.abandon()) }()
	in := &copyReader{ctx: ctx, r: bufio.NewReaderSize(r, 256<<10), m: m}
	if progress != nil {
		in.progress = func(done, total int64) { progress(StepCopy, done, total) }
	}
	if err := in.all(); err != nil {
		return f, err
	}
	if err := m.close(); err != nil {
		return f, err
	}
	f, err = m.readBack(ctx, func(done, total int64) {
		if progress != nil {
			progress(StepReadBack, done, total)
		}
	})
	if err != nil {
		return f, err
	}
	return f, m.install()
}

// copyReader reads what a copyWriter wrote.
type copyReader struct {
	ctx      context.Context
	r        *bufio.Reader
	m        *making
	crc      uint32
	done     int64
	progress func(done, total int64)
}

// largestPart bounds what a stream that is none can make us hold.
const largestPart = 1 << 30

var errNoCopy = errors.New("the stream is no copy of a database")

func (c *copyReader) all() error {
	head := make([]byte, len(copyHead))
	if err := c.full(head); err != nil {
		return err
	}
	if string(head) != copyHead {
		return errNoCopy
	}
	size, err := c.uvarint()
	if err != nil {
		return err
	}
	if err := c.m.needs(int64(size)); err != nil {
		return err
	}
	for n := 0; ; n++ {
		if n%256 == 0 {
			if err := c.ctx.Err(); err != nil {
				return err
			}
			if c.progress != nil {
				c.progress(min(c.done, int64(size)), int64(size))
			}
		}
		if end, err := c.item(); end || err != nil {
			return err
		}
	}
}

func (c *copyReader) item() (end bool, err error) {
	kind := make([]byte, 1)
	if err := c.full(kind); err != nil {
		return false, err
	}
	if kind[0] == 'e' {
		sum := c.crc
		b := make([]byte, 4)
		if err := c.full(b); err != nil {
			return false, err
		}
		if binary.LittleEndian.Uint32(b) != sum {
			return false, fmt.Errorf("%w: its CRC-32C does not match", errNoCopy)
		}
		return true, nil
	}
	bucket, err := c.part()
	if err != nil {
		return false, err
	}
	at := source{bucket: string(bucket)}
	if !at.known() {
		return false, fmt.Errorf("%w: it has a bucket %q", errNoCopy, bucket)
	}
	if kind[0] == 's' {
		n, err := c.uvarint()
		if err != nil {
			return false, err
		}
		return false, c.m.sequence(at, n)
	}
	shelf, err1 := c.part()
	k, err2 := c.part()
	at.shelf = string(shelf)
	if err := errors.Join(err1, err2); err != nil {
		return false, err
	}
	switch kind[0] {
	case 'd':
		return false, c.m.remove(at, k)
	case 'p':
		v, err := c.part()
		if err != nil {
			return false, err
		}
		return false, c.m.put(at, k, v)
	}
	return false, fmt.Errorf("%w: an item of kind %q", errNoCopy, kind)
}

func (at source) known() bool {
	for _, b := range buckets {
		if string(b) == at.bucket {
			return true
		}
	}
	return false
}

func (c *copyReader) full(b []byte) error {
	if _, err := io.ReadFull(c.r, b); err != nil {
		return c.broken(err)
	}
	c.crc = crc32.Update(c.crc, copyTable, b)
	c.done += int64(len(b))
	return nil
}

func (c *copyReader) uvarint() (uint64, error) {
	var b [binary.MaxVarintLen64]byte
	for i := range b {
		if err := c.full(b[i : i+1]); err != nil {
			return 0, err
		}
		if b[i] < 0x80 {
			n, _ := binary.Uvarint(b[:i+1])
			return n, nil
		}
	}
	return 0, fmt.Errorf("%w: a number without end", errNoCopy)
}

func (c *copyReader) part() ([]byte, error) {
	n, err := c.uvarint()
	if err != nil {
		return nil, err
	}
	if n > largestPart {
		return nil, fmt.Errorf("%w: %d bytes in one piece", errNoCopy, n)
	}
	b := make([]byte, n)
	return b, c.full(b)
}

func (c *copyReader) broken(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("the copy broke off after %d bytes: %w", c.done, err)
}

// needs refuses to begin what the disk has no room for, so that a copy beside
// the database does not take the room that readings need.
func (m *making) needs(size int64) error {
	free, total, err := freeSpace(filepath.Dir(m.dest))
	if err != nil || total == 0 {
		return nil
	}
	if want := uint64(size) + roomToLeave; free < want {
		return fmt.Errorf("%s: %d MiB free, %d are needed: name a place with more room", m.dest, free>>20, want>>20)
	}
	return nil
}

// roomToLeave is what a copy leaves free on the disk it is made on.
const roomToLeave = 4*roomForReadings + defaultReserve
