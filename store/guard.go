package store

import (
	"fmt"
	"runtime/debug"
)

// guard runs fn, which reads mapped pages, and makes an ErrDamaged of a panic.
// A bent page makes bbolt panic; a page beyond the end of the file, or on a bad
// sector, is a memory fault, which would end the process if it were not turned
// into a panic. A panic while *foreign is set is somebody else's and goes on.
func guard(path string, foreign *bool, fn func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		p := recover()
		if p == nil {
			return
		}
		if foreign != nil && *foreign {
			panic(p)
		}
		err = &Damage{File: path, Err: fmt.Errorf("page: %v", p)}
	}()
	return fn()
}
