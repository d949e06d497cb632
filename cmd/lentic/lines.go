package main

import (
	"bytes"
	"context"
	"io"
)

// lines reads whole lines until ctx ends: a number that is cut off is another
// number. What follows the last line's end comes only with the end of it all.
type lines struct {
	ctx     context.Context
	in      io.Reader
	n       int // lines that were given
	stopped bool
	buf     []byte
	ready   []byte // whole lines of buf, to be given
	rest    []byte // of buf: what is behind them
	err     error
}

// longestLine is where a line is cut all the same: it is none of a recording.
const longestLine = 256 << 10

func newLines(ctx context.Context, in io.Reader) *lines {
	return &lines{ctx: ctx, in: in, buf: make([]byte, longestLine)}
}

func (l *lines) Read(b []byte) (int, error) {
	for len(l.ready) == 0 {
		if l.ctx.Err() != nil {
			l.stopped = true
			return 0, io.EOF
		}
		if l.err != nil {
			return 0, l.err
		}
		l.fill()
	}
	n := copy(b, l.ready)
	l.n += bytes.Count(b[:n], []byte("\n"))
	l.ready = l.ready[n:]
	return n, nil
}

// fill reads on, behind what is left of the line that had no end yet.
func (l *lines) fill() {
	had := copy(l.buf, l.rest)
	var n int
	n, l.err = l.in.Read(l.buf[had:])
	have := l.buf[:had+n]
	end := bytes.LastIndexByte(have, '\n') + 1
	if l.err == io.EOF || len(have) == len(l.buf) && end == 0 {
		end = len(have)
	}
	l.ready, l.rest = have[:end], have[end:]
}
