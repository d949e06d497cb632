package alert

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"lentic/collector/aquarium"
)

// A channel carries a few messages at a time, a person gets one at a time: so
// a slow provider delays nobody else's, and an all-clear never overtakes its
// alarm.
const perChannel = 4

// Back-off between rounds of attempts. A refused high message goes by the
// person's other channels first, without a pause.
const (
	backOffFirst = 5 * time.Second
	backOffLimit = 5 * time.Minute
)

// errand is one attempt under way.
type errand struct {
	m   *OutMessage
	to  aquarium.Person
	by  aquarium.ChannelID
	via Sender
}

// deliver sends what is in the outbox until ctx ends, and waits for what is on
// its way then.
func (d *Desk) deliver(ctx context.Context) error {
	var wg sync.WaitGroup
	defer wg.Wait()
	failed := make(chan error, 1)
	for {
		errands, next, err := d.pick()
		if err != nil {
			return err
		}
		for _, e := range errands {
			wg.Go(func() {
				if err := d.send(ctx, e); err != nil {
					select {
					case failed <- err:
					default:
					}
				}
			})
		}
		var due <-chan time.Time
		if next > 0 {
			due = d.o.After(next)
		}
		select {
		case <-ctx.Done():
			wg.Wait()
			select {
			case err := <-failed:
				return err
			default:
				return nil
			}
		case err := <-failed:
			return err
		case <-d.wake:
		case <-due:
		}
	}
}

func (d *Desk) wakeCourier() {
	select {
	case d.wake <- struct{}{}:
	default:
	}
}

// pick takes what is to leave now, marks it as being sent, and says how long
// until more is due; zero when only a change can bring more.
func (d *Desk) pick() (es []errand, next time.Duration, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	busy, slots := map[aquarium.PersonID]bool{}, map[aquarium.ChannelID]int{}
	var late []*OutMessage
	for _, m := range d.waiting() {
		switch {
		case m.Deadline <= now:
			late = append(late, m)
			continue
		case d.busy[m.To] || busy[m.To]:
			continue // its end wakes us
		case m.NotBefore > now:
			if w := m.NotBefore.Sub(now); next == 0 || w < next {
				next = w
			}
			continue
		}
		e := d.errand(m)
		if d.slots[e.by]+slots[e.by] >= perChannel {
			continue
		}
		busy[m.To] = true
		slots[e.by]++
		es = append(es, e)
	}
	if len(es)+len(late) == 0 {
		return nil, next, nil
	}
	err = d.update(func(c *change) error {
		for _, m := range late {
			c.message(m.ID).end(Failed, now, "given up after a day")
		}
		for i := range es {
			m := c.message(es[i].m.ID)
			m.State = Sending
			m.Attempts = append(m.Attempts, Attempt{At: now, By: es[i].by})
			es[i].m = m
		}
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	for _, e := range es {
		d.busy[e.m.To] = true
		d.slots[e.by]++
	}
	return es, next, nil
}

// waiting lists what has not left, the most urgent first, then as written.
func (d *Desk) waiting() []*OutMessage {
	var ms []*OutMessage
	for _, m := range d.box {
		if m.State == Waiting {
			ms = append(ms, m)
		}
	}
	slices.SortFunc(ms, func(a, b *OutMessage) int {
		return cmp.Or(cmp.Compare(b.Priority, a.Priority), cmp.Compare(a.Written, b.Written), cmp.Compare(a.ID, b.ID))
	})
	return ms
}

// errand chooses the way for a message's next attempt.
func (d *Desk) errand(m *OutMessage) errand {
	to, _ := d.recipient(m.Site, m.To)
	ways := d.ways(m, to)
	by := ways[len(m.Attempts)%len(ways)]
	return errand{m: m, to: to, by: by, via: d.o.Senders[by]}
}

// ways lists the channels a message may take: its own, and for a high one
// whatever else reaches the person.
func (d *Desk) ways(m *OutMessage, to aquarium.Person) []aquarium.ChannelID {
	ways := []aquarium.ChannelID{m.By}
	f := d.files[m.Alarm]
	if m.Priority < aquarium.High || f != nil && f.Alarm.Cause == aquarium.NobodyReached {
		return ways // that nobody was reached has a message for each channel
	}
	for _, by := range d.channelsOf(to) {
		if by != m.By {
			ways = append(ways, by)
		}
	}
	return ways
}

// send makes one attempt and writes down what came of it.
func (d *Desk) send(ctx context.Context, e errand) error {
	receipt, err := d.attempt(ctx, e.via, e.by, e.m, e.to)
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.busy, e.to.ID)
	delete(d.busy, e.m.To)
	if d.slots[e.by]--; d.slots[e.by] <= 0 {
		delete(d.slots, e.by)
	}
	defer d.wakeCourier()
	werr := d.update(func(c *change) error {
		m := c.message(e.m.ID)
		a := m.lastAttempt()
		a.Until, a.Receipt = c.now, receipt
		if err == nil {
			m.end(Delivered, c.now, "")
			if f := c.open(m.Alarm); f != nil {
				f.Reached = true
			}
			return nil
		}
		a.Err = err.Error()
		if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
			a.Err = "no answer before the end of its time; it may have arrived (" + a.Err + ")"
		}
		m.State = Waiting
		m.NotBefore = c.now.Add(pause(len(m.Attempts), len(d.ways(m, e.to))))
		if f := d.files[m.Alarm]; m.Kind != "" && f != nil && !f.wants(m) {
			m.end(Overtaken, c.now, "no longer true when it was to be sent again")
		}
		return nil
	})
	if werr != nil {
		return fmt.Errorf("outbox: %w", werr)
	}
	if err != nil {
		d.stats.Failed[e.by]++
		d.o.Log.Warn("message not sent", "site", e.m.Site, "tank", e.m.Tank, "alarm", e.m.Alarm, "channel", e.by, "to", e.m.To, "err", err)
	} else {
		d.stats.Delivered[e.by]++
	}
	return d.reached()
}

// attempt hands a message to a channel within the time one attempt has.
func (d *Desk) attempt(ctx context.Context, via Sender, by aquarium.ChannelID, m *OutMessage, to aquarium.Person) (string, error) {
	switch {
	case to.ID == "":
		return "", fmt.Errorf("%w %q", aquarium.ErrUnknownPerson, m.To)
	case via == nil:
		return "", fmt.Errorf("channel %q is not configured", by)
	case via.Address(to) == "":
		return "", fmt.Errorf("channel %q has no address of %q", by, to.ID)
	}
	ctx, cancel := context.WithTimeout(ctx, d.o.Timeout)
	defer cancel()
	return via.Send(ctx, m.outgoing(to))
}

// pause is the time until the next attempt: none while there is another
// channel to try, then longer with each round.
func pause(attempts, ways int) time.Duration {
	if attempts%ways != 0 {
		return 0
	}
	rounds := attempts / ways
	return min(backOffFirst<<min(rounds-1, 10), backOffLimit)
}

func (m *OutMessage) lastAttempt() *Attempt { return &m.Attempts[len(m.Attempts)-1] }
