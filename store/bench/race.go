package main

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"time"

	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// query is one way to an answer; run reports how many points came.
type query struct {
	name string
	// file is what the kernel is to forget before each run; empty: the query
	// is warm, and run once before.
	file string
	run  func(series int, from, to int64) (points int, err error)
}

// race runs the queries in turns over stretches of that length within the
// year, and gives the median of each. All must find the same number of points,
// give or take those at the ends.
func (b *bench) race(rounds int, span time.Duration, qs ...query) ([]amount, error) {
	random := rand.New(rand.NewPCG(b.seed, 1))
	times := make([][]time.Duration, len(qs))
	for round := range rounds {
		series := random.IntN(tanks.Sensors)
		from, to := b.stretch(random, span)
		var found []int
		for i := range qs {
			i := (i + round) % len(qs)
			d, n, err := qs[i].timed(series, from, to)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", qs[i].name, err)
			}
			if found = append(found, n); n == 0 || n-found[0] > 2 || found[0]-n > 2 {
				return nil, fmt.Errorf("%s: %d points in a year where another found %d", qs[i].name, n, found[0])
			}
			times[i] = append(times[i], d)
			if err := b.ctx.Err(); err != nil {
				return nil, err
			}
		}
	}
	var out []amount
	for i, q := range qs {
		out = append(out, took(q.name, median(times[i])))
	}
	return out, nil
}

// stretch is one of that length somewhere in the year, or the year.
func (b *bench) stretch(random *rand.Rand, span time.Duration) (from, to int64) {
	from, to = b.begin(), b.end.UnixMilli()
	if room := to - from - span.Milliseconds(); room > 0 {
		from += random.Int64N(room)
	}
	return from, min(to, from+span.Milliseconds())
}

func (q query) timed(series int, from, to int64) (time.Duration, int, error) {
	var err error
	if q.file != "" {
		err = chill(q.file)
	} else {
		_, err = q.run(series, from, to)
	}
	if err != nil {
		return 0, 0, err
	}
	runtime.GC() // so that nobody pays for another's
	start := time.Now()
	n, err := q.run(series, from, to)
	return time.Since(start), n, err
}

func rawPoints(r peer.Reader) func(series int, from, to int64) (int, error) {
	return func(series int, from, to int64) (n int, err error) {
		err = r.Raw(series, from, to, func(int64, float64) { n++ })
		return n, err
	}
}

// foldPoints sums raw readings up as they come.
func foldPoints(r peer.Reader, width time.Duration) func(series int, from, to int64) (int, error) {
	return func(series int, from, to int64) (points int, err error) {
		var s peer.Sum
		err = r.Raw(series, from, to, func(at int64, v float64) {
			if at -= at % width.Milliseconds(); points == 0 || at != s.At {
				s = peer.Sum{At: at, Min: v, Max: v}
				points++
			}
			s.Count++
			s.Min, s.Max, s.Sum = min(s.Min, v), max(s.Max, v), s.Sum+v
		})
		return points, err
	}
}
