package store

import (
	"errors"
	"io/fs"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// renameNew renames a file unless the new name is taken.
func renameNew(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	switch {
	case errors.Is(err, unix.EINVAL), errors.Is(err, unix.ENOSYS): // not with this file system, or this kernel
		return linkNew(from, to)
	case err != nil:
		return &fs.PathError{Op: "rename", Path: to, Err: err}
	}
	return nil
}

// dropCache forgets what memory holds of a file. It is advice: a file system
// without a cache of this kind has nothing to forget.
func dropCache(f *os.File) { _ = unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED) }

// readAhead has the kernel fetch a part of a file without waiting for it. It is
// advice too: who then reads waits for the rest.
func readAhead(f *os.File, from, n int64) {
	_ = unix.Fadvise(int(f.Fd()), from, n, unix.FADV_WILLNEED)
}

// lockShared takes the lock that bbolt takes for reading, false where somebody
// writes. It goes with the file.
func lockShared(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB) == nil
}

// lockAlone takes the lock that bbolt takes for writing.
func lockAlone(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
