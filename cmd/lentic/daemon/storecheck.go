package daemon

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path/filepath"

	"lentic/cmd/lentic/config"
	"lentic/store"
)

// Checked is what a check of the store found, in words.
type Checked struct {
	File    string
	Live    bool     // the daemon was at work, and looked through the values, not the pages
	Read    string   // what was read
	Damage  []string // the first places
	Damaged int      // all of them
	Aside   []string // readings that had been put aside before
}

func checked(file string, f store.Findings) Checked {
	c := Checked{File: file, Read: f.Read(), Damaged: f.Damaged}
	for _, d := range f.Damage {
		c.Damage = append(c.Damage, d.Error())
	}
	for _, d := range f.PutAside {
		c.Aside = append(c.Aside, d.Error())
	}
	return c
}

// checkLine is a line of what the operation behind StoreCheck says: how far it
// is, or what it found.
type checkLine struct {
	Done, Total int64    `json:",omitempty"`
	Found       *Checked `json:",omitempty"`
}

// storeCheck checks the store at work.
func storeCheck(ctx context.Context, s *services, _ struct{}, out io.Writer) error {
	enc := json.NewEncoder(out)
	say := func(l checkLine) error {
		err := enc.Encode(l)
		if f, ok := out.(http.Flusher); ok {
			f.Flush()
		}
		return err
	}
	f, err := s.store.Inspect(ctx, func(done, total int64) { _ = say(checkLine{Done: done, Total: total}) })
	if err != nil {
		return err
	}
	c := checked(s.store.Path(), f)
	c.Live = true
	return say(checkLine{Found: &c})
}

// StoreCheck looks through the database: value by value where a daemon is at
// work on it, page by page where none is. An error says that nothing could be
// told at all.
func StoreCheck(ctx context.Context, cfg *config.Config, progress Progress) (Checked, error) {
	var c Checked
	err := aroundStart(ctx, func() error {
		r, w := io.Pipe()
		read := make(chan struct{})
		go func() {
			defer close(read)
			in := bufio.NewReader(r)
			for dec := json.NewDecoder(in); ; {
				var l checkLine
				if dec.Decode(&l) != nil {
					io.Copy(io.Discard, r)
					return
				}
				if l.Found != nil {
					c = *l.Found
				} else {
					progress(store.StepCheck, l.Done, l.Total)
				}
			}
		}()
		err := CallRunning(ctx, cfg, "store-check", struct{}{}, nil, w)
		w.Close()
		<-read
		if !errors.Is(err, ErrNotRunning) {
			return err
		}
		c, err = CheckFile(ctx, filepath.Join(cfg.Data, storeName), progress)
		return err
	})
	return c, err
}

// CheckFile looks through a database that nobody writes to, page by page.
func CheckFile(ctx context.Context, file string, progress Progress) (Checked, error) {
	f, err := store.CheckFile(ctx, file, func(done, total int64) { progress(store.StepCheck, done, total) })
	return checked(file, f), err
}

// Salvage makes a new database at dest of what is whole in file, or where that
// is empty in the database that no daemon runs on.
func Salvage(ctx context.Context, cfg *config.Config, file, dest string, progress Progress) (found, saved Checked, err error) {
	if file == "" {
		file = filepath.Join(cfg.Data, storeName)
		if err := notRunning(ctx, cfg); err != nil {
			return found, saved, fmt.Errorf("--salvage needs a database that stands still: %w", err)
		}
	}
	s := &services{}
	s.cfg.Store(cfg)
	f, kept, err := store.Salvage(ctx, file, dest, store.Options{Good: s.counts}, func(done, total int64) { progress(store.StepCheck, done, total) })
	return checked(file, f), checked(dest, kept), err
}
