package collector

import (
	"context"
	"fmt"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lentic/collector/aquarium"
)

// smallDisk is a disk that has room only while room says so.
type smallDisk struct {
	disk
	room  atomic.Bool
	tried atomic.Int32
}

func (d *smallDisk) Commit(ctx context.Context, b aquarium.Batch) error {
	d.tried.Add(1)
	if !d.room.Load() {
		return fmt.Errorf("lentic.db: %w", ErrFull)
	}
	return d.disk.Commit(ctx, b)
}

// With no room everything unacknowledged is let go and nothing more is taken;
// once there is room it goes on by itself. What nobody would send again is kept.
func TestFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		d := &smallDisk{}
		var told []bool
		i := newIntake(&d.disk, Options{OnFull: func(full bool) { told = append(told, full) }, Queue: 5})
		i.opt.Sink = d
		never := func() { t.Error("acknowledged and not on disk") }
		i.Offer(ctx, number(0), never)
		i.Offer(ctx, number(1), nil)
		ended := make(chan error)
		go func() { ended <- i.Run(ctx) }()
		synctest.Wait()
		i.Offer(ctx, number(2), never)
		i.Offer(ctx, number(3), nil)
		time.Sleep(10*fullRetry + fullRetry/2)
		synctest.Wait()
		if !slices.Equal(told, []bool{true}) || d.tried.Load() != 11 || i.Stats().Queued != 0 {
			t.Errorf("full: told %v, tried %d times, %d queued; want [true], 11, 0", told, d.tried.Load(), i.Stats().Queued)
		}
		d.room.Store(true)
		time.Sleep(fullRetry)
		synctest.Wait()
		if !slices.Equal(told, []bool{true, false}) {
			t.Errorf("room again: told %v, want [true false]", told)
		}
		acknowledged := false
		i.Offer(ctx, number(0), func() { acknowledged = true })
		synctest.Wait()
		if got := d.values(); !acknowledged || !slices.Equal(got, []float64{1, 0}) {
			t.Errorf("acknowledged %v, on disk %v; want true, [1 0]", acknowledged, got)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
}

// Who waits for room in the queue is let go too, and a full disk holds nobody
// up who stops the program, or is stopping it.
func TestFullAndStopped(t *testing.T) {
	for _, c := range []struct {
		name    string
		stopped bool // before the disk is met
	}{{"then stopped", false}, {"while stopping", true}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				ctx, cancel := context.WithCancel(t.Context())
				defer cancel()
				d := &smallDisk{}
				i := newIntake(&d.disk, Options{Queue: 1, MaxBatch: 1, OnFull: func(bool) {
					if c.stopped {
						t.Error("connections are closed already, and were to be closed again")
					}
				}})
				i.opt.Sink = d
				never := func() { t.Error("acknowledged and not on disk") }
				i.Offer(ctx, number(0), never)
				waiting := make(chan bool)
				if c.stopped {
					cancel()
				} else {
					go func() { i.Offer(t.Context(), number(1), never); close(waiting) }()
					synctest.Wait()
				}
				ended := make(chan error)
				go func() { ended <- i.Run(ctx) }()
				if !c.stopped {
					<-waiting
					cancel()
				}
				if err := <-ended; err != nil {
					t.Errorf("got %v, want an orderly end: nothing has failed", err)
				}
			})
		})
	}
}
