package collector

import (
	"context"
	"errors"
	"slices"
	"time"
)

// ErrFull is what a Sink answers, wrapped or not, when it has no room: nothing
// of the batch was written, and nothing has failed.
var ErrFull = errors.New("no room for readings")

// fullRetry is how often a full Sink is tried again.
const fullRetry = time.Second

// await returns once the Sink has room again. Until then the Intake is shut and
// everybody has been told (Options.OnFull). Messages that somebody waits to see
// acknowledged are let go: holding them would fill the memory as well, and
// their senders have them. What nobody will send again (QoS 0, a Will) is kept,
// as much as the queue holds, and is what the Sink is tried with.
//
// When ctx ends first what is left is given up, and nothing has failed.
func (i *Intake) await(ctx context.Context, items []item) error {
	if ctx.Err() != nil {
		return nil
	}
	i.queue.refuse(true)
	i.opt.OnFull(true)
	kept := slices.DeleteFunc(items, item.repeated)
	retry := time.NewTicker(fullRetry)
	defer retry.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-retry.C:
		}
		err := i.write(ctx, gather(kept), len(kept)) // an empty batch asks for room all the same
		if errors.Is(err, ErrFull) {
			continue
		}
		if err != nil {
			return err
		}
		i.queue.refuse(false)
		i.opt.OnFull(false)
		return nil
	}
}
