package collector

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/mochi-mqtt/server/v2/listeners"

	"lentic/collector/wire"
)

// A pause leaves the broker, which keeps what comes and sends again what was
// not acknowledged, with a broker in this process and a real one. The former
// takes the number of a SUBSCRIBE for that of a message it has not seen
// acknowledged, and refuses it (v2.7.9): there all are, before the pause.
func TestSubscriptionPauses(t *testing.T) {
	for _, tt := range []struct {
		name    string
		broker  func(*testing.T) string
		pending bool
	}{
		{"in process", func(t *testing.T) string { return strangers(t, listeners.Config{ID: "tcp"}, nil) }, false},
		{"mosquitto", mosquitto, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			address := tt.broker(t)
			l := listen(t, SubscriptionOptions{URL: "mqtt://" + address})
			l.wait(true)
			device(t, address, 0, 5)
			first := 5
			late := l.take(5)
			if tt.pending {
				first = 0
			} else {
				answer(late)
				time.Sleep(100 * time.Millisecond) // they are on the network
			}

			l.s.Pause(true)
			l.s.Pause(true) // once is enough
			l.wait(false)
			device(t, address, 5, 10)
			if n := len(l.offers); n > 0 {
				t.Errorf("%d messages were offered in the pause", n)
			}
			if tt.pending {
				answer(late) // too late: it harms nothing
			}

			l.s.Pause(false)
			l.wait(true)
			again := l.take(10 - first)
			if got, want := payloads(again), numbers(first, 10); !slices.Equal(got, want) {
				t.Errorf("after the pause: got %v, want %v", got, want)
			}
			answer(again)
			began := time.Now()
			l.stop()
			if took := time.Since(began); took > 3*time.Second {
				t.Errorf("the stop took %s: something was still thought to be owed", took)
			}
		})
	}
}

func answer(os []offered) {
	for _, o := range os {
		o.done()
	}
}

// A pause before the start holds, one with the broker away is no hindrance, and
// a stop in a pause is quick.
func TestSubscriptionPausedAtOddTimes(t *testing.T) {
	t.Parallel()
	address := strangers(t, listeners.Config{ID: "tcp"}, nil)
	s, err := NewSubscription(SubscriptionOptions{
		URL: "mqtt://" + address, ClientID: "odd", Topics: []string{"lentic/#"},
		Offer:   func(context.Context, wire.Message, func()) {},
		OnState: func(up bool) { t.Errorf("state %v in a pause", up) },
	})
	if err != nil {
		t.Fatal(err)
	}
	s.Pause(true)
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	began := time.Now()
	if err := s.Run(ctx); err != nil || time.Since(began) > 3*time.Second {
		t.Errorf("paused from the start: %v after %s", err, time.Since(began))
	}

	l := listen(t, SubscriptionOptions{URL: "mqtt://" + freePort(t)}) // nobody there
	time.Sleep(100 * time.Millisecond)                                // it has begun to try
	l.s.Pause(true)
	l.wait(false)
	l.s.Pause(false)
	l.s.Pause(true)
	began = time.Now()
	l.stop()
	if took := time.Since(began); took > 3*time.Second {
		t.Errorf("a stop in the pause took %s", took)
	}
}
