package daemon

import (
	"context"
	"errors"
	"io"

	"lentic/cmd/lentic/config"
	"lentic/store"
)

// Progress is told which step long work is at, and which part of it is done.
type Progress func(step string, done, total int64)

// copyOut is the operation behind Backup: the database as a stream.
func copyOut(ctx context.Context, s *services, _ struct{}, out io.Writer) error {
	return s.store.Copy(ctx, out)
}

// Backup makes a backup at dest, of the database as it is now, whether a daemon
// runs on it or not. The daemon hands the copy over and the caller writes it:
// a daemon that a service manager has locked in can write next to its database
// only, and a backup belongs elsewhere.
func Backup(ctx context.Context, cfg *config.Config, version, dest string, progress Progress) (store.Findings, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	r, w := io.Pipe()
	sent := make(chan error, 1)
	go func() {
		err := Call(ctx, cfg, version, "backup", struct{}{}, nil, w)
		w.CloseWithError(err)
		sent <- err
	}()
	f, err := store.ReadCopy(ctx, dest, r, progress)
	stop()
	r.CloseWithError(io.ErrClosedPipe)
	if e := <-sent; err != nil && e != nil && !errors.Is(e, context.Canceled) && !errors.Is(e, io.ErrClosedPipe) {
		err = e // what ended the stream, and not that it ended
	}
	return f, err
}
