package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// keptYear is what is written down beside a year that is kept: what was seen
// while it was written, and what it was written of.
type keptYear struct {
	End      time.Time
	Days     int
	Seed     uint64
	Readings int64
	Most     uint64
	MostDay  int
	Free     uint64
	Took     time.Duration
}

func (b *bench) notes() string { return filepath.Join(b.kept, "year.json") }

// keepYear copies the year as it was written, before any row has gone on in it.
func (b *bench) keepYear(y *yearFile) error {
	if b.kept == "" {
		return nil
	}
	if err := os.MkdirAll(b.kept, 0o700); err != nil {
		return err
	}
	if err := copyFile(filepath.Join(b.kept, "lentic.db"), y.path); err != nil {
		return err
	}
	text, err := json.Marshal(keptYear{b.end, b.days(), b.seed, y.readings, y.most, y.mostDay, y.free, y.took})
	if err != nil {
		return err
	}
	return os.WriteFile(b.notes(), text, 0o600)
}

// takeYear is a year that was kept, which is not copied before a row needs it;
// nil: none was. This run then ends when that year did.
func (b *bench) takeYear() (*yearFile, error) {
	if b.kept == "" {
		return nil, nil
	}
	text, err := os.ReadFile(b.notes())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var k keptYear
	if err := json.Unmarshal(text, &k); err != nil {
		return nil, fmt.Errorf("%s: %w; delete the folder to write the year anew", b.notes(), err)
	}
	if k.Days != b.days() || k.Seed != b.seed {
		return nil, fmt.Errorf("%s tells of %d days of seed %d, and %d days of seed %d are asked for: give another folder", b.notes(), k.Days, k.Seed, b.days(), b.seed)
	}
	b.end = k.End
	return &yearFile{readings: k.Readings, most: k.Most, mostDay: k.MostDay, free: k.Free, took: k.Took}, nil
}

// copyYear fetches the kept year for this run's rows to go on in.
func (b *bench) copyYear(y *yearFile) error {
	if err := copyFile(b.yearPath(), filepath.Join(b.kept, "lentic.db")); err != nil {
		return err
	}
	y.path, y.dir, y.size = b.yearPath(), filepath.Dir(b.yearPath()), fileSize(b.yearPath())
	var err error
	y.contents, err = inspect(y.path)
	return err
}

func copyFile(to, from string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}
