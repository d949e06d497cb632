package broker

import (
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// beside runs lentic and a peer in turn and reports medians. Ask for it with
// -benchtime 5x or more.
func beside(b *testing.B, n int, name string, peer func(*testing.B, int) load) {
	var ours, theirs, cpu, theirCPU []float64
	for range b.N {
		t, l := peer(b, n), overLentic(b, n)
		theirs, theirCPU = append(theirs, t.rate), append(theirCPU, t.cpu)
		ours, cpu = append(ours, l.rate), append(cpu, l.cpu)
	}
	b.ReportMetric(median(ours), "messages/s")
	b.ReportMetric(median(theirs), name+"/s")
	b.ReportMetric(median(ours)/median(theirs), "x-"+name)
	b.ReportMetric(median(cpu), "µs-cpu/message")
	b.ReportMetric(median(theirCPU), "µs-cpu/"+name)
}

// BenchmarkFifty: 50 connections, PUBACK after a durable commit, beside the
// bare library, which acknowledges nothing.
func BenchmarkFifty(b *testing.B) { beside(b, 500_000, "bare", overBare) }

// BenchmarkFiftyOverPaho: the same, beside the way over a subscriber.
func BenchmarkFiftyOverPaho(b *testing.B) { beside(b, 50_000, "paho", overPaho) }

func median(vs []float64) float64 {
	vs = slices.Clone(vs)
	slices.Sort(vs)
	return vs[len(vs)/2]
}

// BenchmarkLatency: from publish to PUBACK at 600 messages a second, each a
// pack of 12 readings, beside the bare commit of such a record at that pace.
func BenchmarkLatency(b *testing.B) {
	var ours, theirs []float64
	for range b.N {
		theirs = append(theirs, bareCommits(b)...)
		ours = append(ours, publishes(b)...)
	}
	b.ReportMetric(median(ours)*1e6, "µs-p50")
	b.ReportMetric(median(theirs)*1e6, "µs-commit-p50")
	b.ReportMetric(median(ours)/median(theirs), "x-commit")
}

// At each step of the pace one message, if the last is through.
const (
	pace  = time.Second / 600
	paced = 1200
)

func bareCommits(b *testing.B) (seconds []float64) {
	j := newJournal(b)
	batch := aquarium.Batch{Readings: make([]aquarium.Reading, 12)}
	for k := range batch.Readings {
		batch.Readings[k].Sensor.Sensor = floodSensors[k]
	}
	return atPace(func() {
		if err := j.Commit(b.Context(), batch); err != nil {
			b.Fatal(err)
		}
	})
}

func atPace(do func()) (seconds []float64) {
	tick := time.NewTicker(pace)
	defer tick.Stop()
	for range paced {
		<-tick.C
		began := time.Now()
		do()
		seconds = append(seconds, time.Since(began).Seconds())
	}
	return seconds
}

func publishes(b *testing.B) []float64 {
	address, stop := serve(b, newJournal(b), premises())
	defer stop()
	c, err := net.Dial("tcp", address)
	if err != nil {
		b.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	var answer [4]byte
	ask := func(packet []byte) {
		if _, err := c.Write(packet); err != nil {
			b.Fatal(err)
		}
		if _, err := io.ReadFull(c, answer[:]); err != nil {
			b.Fatal(err)
		}
	}
	ask(frame(0x10, text("MQTT"), []byte{4, 2, 0, 60}, text("device")))
	id := uint16(0)
	at := time.Now().Add(-time.Hour).Unix()
	packs := make([][]byte, paced)
	for n := range packs {
		id++
		var pack strings.Builder
		for k, s := range floodSensors {
			if k == 0 {
				fmt.Fprintf(&pack, `[{"bn":"gw1:","bt":%d,"n":"%s","v":6.58}`, at+int64(n), s)
				continue
			}
			fmt.Fprintf(&pack, `,{"n":"%s","v":24.%02d}`, s, k)
		}
		packs[n] = publish("lentic/quillmere-library/tank-0", 1, id, []byte(pack.String()+"]"))
	}
	n := 0
	return atPace(func() {
		ask(packs[n])
		n++
		if answer[0] != 0x40 {
			b.Fatalf("packet % x, want PUBACK", answer)
		}
	})
}
