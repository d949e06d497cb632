package daemon

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// stage is one service that runs until its context ends and returns when all
// it started has ended.
type stage struct {
	name string
	run  func(context.Context) error
}

// stopLimit is what an orderly stop may take before the process gives up on
// it: a service manager's patience is longer.
const stopLimit = 10 * time.Second

// runStages starts the stages in order and stops them in reverse, one after
// another, when ctx ends or one of them fails: what takes readings in comes
// last and stops first, so that what it still holds is committed and
// acknowledged by those below it. The first error is the answer; a stage that
// does not end in time is named.
func runStages(ctx context.Context, stages ...stage) error {
	type running struct {
		stage
		cancel context.CancelFunc
		done   chan error
	}
	failed := make(chan error, len(stages))
	var started []running
	for _, s := range stages {
		own, cancel := context.WithCancel(context.WithoutCancel(ctx))
		r := running{s, cancel, make(chan error, 1)}
		started = append(started, r)
		go func() {
			err := s.run(own)
			if err != nil {
				err = fmt.Errorf("%s: %w", s.name, err)
			} else if own.Err() == nil {
				err = fmt.Errorf("%s: ended by itself", s.name)
			}
			if err != nil {
				failed <- err
			}
			r.done <- err
		}()
	}
	var first error
	select {
	case <-ctx.Done():
	case first = <-failed:
	}
	limit := time.NewTimer(stopLimit)
	defer limit.Stop()
	for i := len(started) - 1; i >= 0; i-- {
		r := started[i]
		r.cancel()
		select {
		case err := <-r.done:
			if first == nil && err != nil && !errors.Is(err, context.Canceled) {
				first = err
			}
		case <-limit.C:
			for _, rest := range started[:i] {
				rest.cancel()
			}
			return errors.Join(first, fmt.Errorf("%s: did not stop within %s", r.name, stopLimit))
		}
	}
	return first
}
