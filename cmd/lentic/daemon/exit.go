package daemon

import (
	"context"
	"errors"
	"fmt"

	"lentic/cmd/lentic/config"
	"lentic/store"
	"lentic/web"
)

// Exit statuses, a promise to service managers: one restarts after Failed and
// DiskFailed, not after the others, which a retry cannot cure.
const (
	Done          = 0
	Mistakes      = 1
	Usage         = 2
	Failed        = 3
	DiskFailed    = 74
	ConfigRefused = 78
	StoreRefused  = 79
)

// statusError is an error that knows its exit status.
type statusError struct {
	status int
	err    error
}

func (e *statusError) Error() string { return e.err.Error() }
func (e *statusError) Unwrap() error { return e.err }

// WithStatus gives err an exit status of its own.
func WithStatus(status int, err error) error { return &statusError{status, err} }

// UsageError is for flags that say what cannot be meant.
func UsageError(format string, a ...any) error {
	return WithStatus(Usage, fmt.Errorf(format, a...))
}

// ExitStatus is the process's exit status for err; nil and a stop by signal are
// Done. A store in use is Failed: trying again cures it as soon as whoever has
// it ends, and a service that gave up then would watch nobody's tanks.
func ExitStatus(err error) int {
	var s *statusError
	var p config.Problems
	switch {
	case err == nil, errors.Is(err, context.Canceled):
		return Done
	case errors.As(err, &s):
		return s.status
	case errors.As(err, &p), errors.Is(err, web.ErrExposed):
		return ConfigRefused
	case errors.Is(err, store.ErrDisk):
		return DiskFailed
	case errors.Is(err, store.ErrNotOurs), errors.Is(err, store.ErrNewerFormat), errors.Is(err, store.ErrDamaged):
		return StoreRefused
	}
	return Failed
}
