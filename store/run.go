package store

import (
	"context"
	"errors"
	"time"
)

const (
	// tidyEvery is how often it is looked whether there is something to do.
	tidyEvery = time.Second
	// tidyPause lets intake go first between two pieces of it.
	tidyPause = 20 * time.Millisecond
)

// Run does the housekeeping until ctx ends, piece by piece. It returns an
// ErrDisk that is final, and waits out a full disk. Damage that keeps a piece
// from being done is logged, and tried again.
func (s *Store) Run(ctx context.Context) error {
	if s.opt.ReadOnly {
		<-ctx.Done()
		return nil
	}
	wait := time.NewTimer(tidyEvery)
	defer wait.Stop()
	told := false
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-wait.C:
		}
		more, err := s.Tidy()
		pause := tidyEvery
		switch {
		case errors.Is(err, ErrFull):
		case errors.Is(err, ErrDisk), errors.Is(err, ErrClosed):
			return err
		case err != nil:
			if !told {
				s.opt.Log.Error("housekeeping of the database", "err", err)
			}
			pause = time.Minute
		case more:
			pause = tidyPause
		}
		told = err != nil
		wait.Reset(pause)
	}
}
