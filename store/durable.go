package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// install gives a finished file its name, for good: the file and its folder are
// on disk before it is renamed, or a crash could leave the name on an empty
// file, and the folder after it. Without replace a file that has the name
// already stays, and that is fs.ErrExist.
func install(from, to string, replace bool) error {
	if err := syncFile(from); err != nil {
		return err
	}
	dir := filepath.Dir(to)
	if err := syncDir(dir); err != nil {
		return err
	}
	rename := renameNew
	if replace {
		rename = os.Rename
	}
	if err := rename(from, to); err != nil {
		return err
	}
	return syncDir(dir)
}

// linkNew is renameNew where the system has no such call.
func linkNew(from, to string) error {
	if err := os.Link(from, to); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return err
		}
		// File systems without hard links, as those of memory sticks.
		if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: %w", to, fs.ErrExist)
		}
		return os.Rename(from, to)
	}
	return os.Remove(from)
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// openSettled opens a file that nobody writes to as the disk has it: what the
// kernel still holds back is written, and what it holds in memory forgotten.
// After a crash, or a sync that failed, that may differ from the disk, and what
// is read then must be what will be read after the next power cut. It is
// bbolt's OpenFile; a file that somebody writes to is left alone.
func openSettled(path string, flag int, mode os.FileMode) (*os.File, error) {
	f, err := os.OpenFile(path, flag, mode)
	if err != nil || !lockShared(f) {
		return f, err
	}
	if err := f.Sync(); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w: %w", path, ErrDisk, err), f.Close())
	}
	dropCache(f)
	return f, nil
}
