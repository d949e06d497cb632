package main

import (
	"bufio"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// recording is a file of readings on its way in, unpacked where its name says
// that it is packed. It shows how much of it has been read.
type recording struct {
	io.Reader
	file  *os.File
	size  int64
	n     int64 // bytes of the file
	doing string
	p     *progress
}

func openRecording(path, doing string, p *progress) (*recording, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r := &recording{file: f, doing: doing + " " + filepath.Base(path), p: p}
	if i, err := f.Stat(); err == nil {
		r.size = i.Size() // a pipe has none
	}
	r.Reader = bufio.NewReaderSize(readerFunc(r.fetch), 1<<18)
	if strings.HasSuffix(path, ".gz") {
		if r.Reader, err = gzip.NewReader(r.Reader); err != nil {
			f.Close()
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	return r, nil
}

func (r *recording) fetch(b []byte) (int, error) {
	n, err := r.file.Read(b)
	r.n += int64(n)
	r.p.show(r.doing, min(1, float64(r.n)/float64(max(1, r.size))))
	return n, err
}

func (r *recording) Close() error { return r.file.Close() }

type readerFunc func(b []byte) (int, error)

func (fn readerFunc) Read(b []byte) (int, error) { return fn(b) }
