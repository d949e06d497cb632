package collector

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// BenchmarkIntake is what the intake carries with a disk that takes 5 ms a
// commit: one timed SenML reading a message, from one connection with as many
// unacknowledged messages as the broker lets one have.
func BenchmarkIntake(b *testing.B) {
	for _, window := range []int{1, 20, 2000} {
		b.Run(fmt.Sprintf("unacknowledged=%d", window), func(b *testing.B) {
			d := &disk{takes: 5 * time.Millisecond}
			i := New(Options{Registry: wire.NewRegistry("", library), Sink: d})
			ctx, cancel := context.WithCancel(context.Background())
			ended := make(chan error, 1)
			go func() { ended <- i.Run(ctx) }()
			base := float64(time.Now().UnixMilli()) / 1000
			free := make(chan struct{}, window)
			var all sync.WaitGroup
			b.ResetTimer()
			for n := range b.N {
				free <- struct{}{}
				all.Add(1)
				i.Offer(ctx, wire.Message{Topic: phTopic,
					Payload: fmt.Appendf(nil, `[{"n":"ph","u":"pH","t":%.3f,"v":6.58}]`, base-float64(n)/1000)},
					func() { <-free; all.Done() })
			}
			all.Wait()
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "messages/s")
			cancel()
			if err := <-ended; err != nil {
				b.Fatal(err)
			}
		})
	}
}

// BenchmarkDecodeWhere compares decoding by who offers, as Offer does, with
// decoding by the committer between two commits.
func BenchmarkDecodeWhere(b *testing.B) {
	r := wire.NewRegistry("", library)
	const batch = 500
	m := func(n int) wire.Message {
		return wire.Message{Topic: phTopic, Arrived: aquarium.At(time.Now()),
			Payload: fmt.Appendf(nil, `[{"n":"ph","u":"pH","t":%d,"v":6.58}]`, 1930000000+n)}
	}
	commit := func() { time.Sleep(5 * time.Millisecond) }
	b.Run("offering", func(b *testing.B) {
		found := make(chan wire.Decoded, 2*batch)
		go func() {
			for n := range b.N {
				found <- r.Decode(m(n))
			}
			close(found)
		}()
		for n := 0; ; n++ {
			if _, ok := <-found; !ok {
				break
			}
			if n%batch == batch-1 {
				commit()
			}
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "messages/s")
	})
	b.Run("committing", func(b *testing.B) {
		messages := make(chan wire.Message, 2*batch)
		go func() {
			for n := range b.N {
				messages <- m(n)
			}
			close(messages)
		}()
		for n := 0; ; n++ {
			in, ok := <-messages
			if !ok {
				break
			}
			r.Decode(in)
			if n%batch == batch-1 {
				commit()
			}
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "messages/s")
	})
}
