package main

import (
	"errors"
	"path/filepath"
	"time"

	"lentic/store"
	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// contender is one of those that commit the same readings in turns.
type contender struct {
	peer.Peer
	took    []time.Duration // each commit
	written int64           // bytes handed to the kernel
}

// contenders makes lentic, which is the first, and its peers.
func contenders(dir string) ([]*contender, error) {
	var all []*contender
	var failed error
	add := func(p peer.Peer, err error) {
		if err != nil {
			failed = errors.Join(failed, err)
			return
		}
		all = append(all, &contender{Peer: p})
	}
	l, err := openLentic(filepath.Join(dir, "lentic.db"), tankCount, store.Options{})
	add(l, err)
	plain, err := peer.NewPlain(filepath.Join(dir, "plain"))
	add(plain, err)
	bolt, err := peer.NewBolt(filepath.Join(dir, "bolt"))
	add(bolt, err)
	series, err := peer.NewTSDB(filepath.Join(dir, "tsdb"), true)
	add(series, err)
	lite, err := peer.NewSQLite(filepath.Join(dir, "sqlite"), true)
	add(lite, err)
	if failed != nil {
		return nil, errors.Join(failed, closeAll(all))
	}
	return all, nil
}

func closeAll(all []*contender) (err error) {
	for _, c := range all {
		err = errors.Join(err, c.Close())
	}
	return err
}

// takeTurns has each contender commit the same readings, some commits at a
// time and another one first each time.
func (b *bench) takeTurns(all []*contender, s *stream, n, rounds, each int) error {
	lot := make([][]tanks.Reading, each)
	for round := range rounds {
		for i := range lot {
			lot[i] = append(lot[i][:0], s.next(n)...)
		}
		for i := range all {
			c := all[(i+round)%len(all)]
			before := handedToKernel()
			for _, rs := range lot {
				start := time.Now()
				if err := c.Commit(rs); err != nil {
					return errors.Join(errors.New(c.Name()), err)
				}
				c.took = append(c.took, time.Since(start))
			}
			c.written += handedToKernel() - before
			if err := b.ctx.Err(); err != nil {
				return err
			}
		}
	}
	return nil
}

func sum(ds []time.Duration) (all time.Duration) {
	for _, d := range ds {
		all += d
	}
	return all
}

// commits runs one size of commit and hands on what came out.
func (b *bench) commits(n, rounds, each int, then func(all []*contender)) error {
	return b.scratch(func(dir string) error {
		all, err := contenders(dir)
		if err != nil {
			return err
		}
		// The first commits make files, buckets and series.
		s := b.stream(tankCount, tanks.Own, b.begin())
		err = b.takeTurns(all, s, tankCount*tanks.Sensors, 1, 1)
		for _, c := range all {
			c.took, c.written = nil, 0
		}
		if err == nil {
			err = b.takeTurns(all, s, n, rounds, each)
		}
		if err == nil {
			then(all)
		}
		return errors.Join(err, closeAll(all))
	})
}

func (b *bench) commitOfTwelve() error {
	return b.commits(12, 40, 25, func(all []*contender) {
		mine := took("", median(all[0].took))
		targets := []check{{}, atMost(2.1), noTarget, noTarget, noTarget}
		for i, c := range all[1:] {
			b.table.is("p50", mine, took(c.Name(), median(c.took)), targets[i+1])
		}
	})
}

// ingest compares rates. Targets are those against the plain file, tsdb and
// SQLite.
func ingest(n, rounds, each int, plain, series, lite float64) func(*bench) error {
	return func(b *bench) error {
		return b.commits(n, rounds, each, func(all []*contender) {
			speed := func(c *contender) amount {
				return rate(c.Name(), int64(n*len(c.took)), sum(c.took))
			}
			targets := []check{{}, atLeast(plain), noTarget, atLeast(series), atLeast(lite)}
			for i, c := range all[1:] {
				b.table.is("", speed(all[0]), speed(c), targets[i+1])
			}
		})
	}
}

// dirtied counts what is handed to the kernel by write and its kin, as
// /proc/self/io counts it (wchar). What is written through a map is not in it:
// none of these writes that way but for SQLite's small index of its log.
func (b *bench) dirtied() error {
	return b.commits(600, 30, 10, func(all []*contender) {
		per := func(c *contender) amount {
			return amount{c.Name(), float64(c.written) / float64(600*len(c.took)), ""}
		}
		mine := per(all[0])
		mine.text = each("", mine.value).text
		for i, c := range all[1:] {
			p := per(c)
			p.text = each("", p.value).text
			if i == 0 {
				b.table.stays("", mine, atMost(60).in("B"))
			}
			b.table.is("", mine, p, noTarget)
		}
	})
}
