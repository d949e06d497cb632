package main

import (
	"bufio"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"lentic/cmd/lentic/daemon"
)

type importCommand struct {
	configured
	Readings string `arg:"" placeholder:"READINGS.csv" help:"Readings as CSV (time,site,tank,sensor,value; .gz works too)."`
	Replace  bool   `help:"Where another value is there, the one given stands."`
}

// Run reads the file itself, for it may lie where only its caller can read, and
// hands its rows to whoever has the store.
func (c *importCommand) Run(b *base) error {
	f, err := os.Open(c.Readings)
	if err != nil {
		return err
	}
	defer f.Close()
	size := int64(1)
	if info, err := f.Stat(); err == nil {
		size = max(1, info.Size()) // a pipe has none
	}
	p := newProgress()
	defer p.clear()
	from := &counted{Reader: f}
	var in io.Reader = bufio.NewReaderSize(from, 1<<20)
	if strings.HasSuffix(c.Readings, ".gz") {
		z, err := gzip.NewReader(in)
		if err != nil {
			return fmt.Errorf("%s: %w", c.Readings, err)
		}
		defer z.Close()
		in = z
	}
	name := filepath.Base(c.Readings)
	seen := readerFunc(func(b []byte) (int, error) {
		p.show("importing "+name, min(1, float64(from.n)/float64(size)))
		return in.Read(b)
	})
	return c.call(b, "import", daemon.ImportArgs{Name: name, Replace: c.Replace}, seen, os.Stdout)
}

type readerFunc func(b []byte) (int, error)

func (fn readerFunc) Read(b []byte) (int, error) { return fn(b) }
