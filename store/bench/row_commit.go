package main

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// commits has lentic and its peers commit readings in turns, and hands on what
// came out; lentic is the first.
func (b *bench) commits(n, rounds, each int, then func(all []*contender)) error {
	return b.scratch(func(dir string) error {
		var all []*contender
		defer func() {
			for _, c := range all {
				c.stop()
			}
		}()
		for _, name := range committerNames {
			c, err := b.start(name, dir, n, each)
			if err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			all = append(all, c)
		}
		if err := b.takeTurns(all, rounds); err != nil {
			return err
		}
		then(all)
		return nil
	})
}

// takeTurns lets one after another commit its lot, in another order in each
// round, for whoever comes after a heavy writer finds the disk busy; what that
// one left in the kernel is written before. The first round makes files, maps
// and caches, and does not count.
func (b *bench) takeTurns(all []*contender, rounds int) error {
	random := rand.New(rand.NewPCG(b.seed, 2))
	for round := range rounds + 1 {
		for _, i := range random.Perm(len(all)) {
			if err := b.ctx.Err(); err != nil {
				return err
			}
			if err := settle(b.dir); err != nil {
				return err
			}
			if err := all[i].turn(round > 0); err != nil {
				return fmt.Errorf("%s: %w", all[i].name, err)
			}
		}
	}
	return nil
}

func (b *bench) commitOfTwelve() error {
	return b.commits(12, 40, 25, func(all []*contender) {
		b.table.against("p50", all, func(c *contender) amount { return took(c.title(), c.p50()) },
			map[string]check{"plain": atMost(2.1)})
	})
}

// ingest compares rates with those of the plain file, tsdb and SQLite.
func ingest(n, rounds, each int, targets map[string]check) func(*bench) error {
	return func(b *bench) error {
		return b.commits(n, rounds, each, func(all []*contender) {
			b.table.against("", all, func(c *contender) amount { return rate(c.title(), int64(n), c.each()) }, targets)
		})
	}
}

// against compares the first with all others; those without a target are
// there for comparison.
func (t *table) against(measure string, all []*contender, of func(*contender) amount, targets map[string]check) {
	for _, c := range all[1:] {
		target, ok := targets[c.name]
		if !ok {
			target = noTarget
		}
		t.is(measure, of(all[0]), of(c), target)
	}
}

// dirtied counts what is handed to the kernel by write and its kin, as
// /proc/self/io counts it (wchar). What is written through a map is not in it:
// none of these writes that way but for SQLite's small index of its log.
func (b *bench) dirtied() error {
	return b.commits(600, 30, 10, func(all []*contender) {
		of := func(c *contender) amount {
			return each(c.title(), float64(c.wrote)/float64(600*len(c.took)))
		}
		b.table.stays("", of(all[0]), atMost(60).in("B"))
		b.table.against("", all, of, nil)
	})
}

// p50 is the median commit, and each the mean commit of a median round: in a
// round are some slow ones, and they count.
func (c *contender) p50() time.Duration  { return median(c.took) }
func (c *contender) each() time.Duration { return median(c.rounds) }
