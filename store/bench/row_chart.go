package main

import (
	"errors"
	"path/filepath"
	"time"

	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// A year at 800 points is 39 420 s a point; a whole number of hours, as a chart
// has it that is read from sums, makes 797.
const (
	chartWidth = 11 * time.Hour
	rawWidth   = 39_420 * time.Second // of which no kept sums are a part
)

// charts holds the same year of one tank in the peers; lentic has it among 49
// others.
type charts struct {
	*bench
	short    string
	path     string // of lentic's file
	series   *peer.TSDB
	lite     *peer.SQLite
	litePath string
}

const oneTank = " (1 tank)"

// chartNeed: SQLite has 25 bytes a reading of one tank's, and a microsecond to
// write each; tsdb is smaller and faster.
func (b *bench) chartNeed() need {
	n := b.readings() / tankCount
	return need{n * 40, time.Duration(n)*4000 + time.Minute}
}

// chartRows fills the peers once for all rows about reading.
func (b *bench) chartRows() error {
	return b.scratch(func(dir string) (err error) {
		c := &charts{bench: b, short: b.short(), litePath: filepath.Join(dir, "sqlite")}
		if c.path, err = b.sealYear(); err != nil {
			return err
		}
		if c.series, err = peer.NewTSDB(filepath.Join(dir, "tsdb"), false); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, c.series.Close()) }()
		if c.lite, err = peer.NewSQLite(c.litePath, false); err != nil {
			return err
		}
		if err := errors.Join(c.fill(), c.warm(), c.lite.Close()); err != nil {
			return err
		}
		return c.cold()
	})
}

func (c *charts) fill() error {
	if _, err := c.fillPeers(c.series, c.lite, 1, c.days(), tanks.Own); err != nil {
		return err
	}
	for i, width := range []time.Duration{10 * time.Minute, time.Hour} {
		if err := c.lite.Rollup(i, width.Milliseconds()); err != nil {
			return err
		}
	}
	return c.lite.Shrink()
}

func (c *charts) warm() (err error) {
	l, err := c.openYear()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	a, err := c.race(15, 24*time.Hour,
		query{name: "lentic", run: rawPoints(l)},
		query{name: "tsdb" + oneTank, run: rawPoints(c.series)},
		query{name: "SQLite" + oneTank, run: rawPoints(c.lite)})
	if err != nil {
		return err
	}
	c.table.begin("One day raw, 8 640 points, warm")
	c.table.is("", a[0], a[1], atMost(0.13).unless(c.short))
	c.table.is("", a[0], a[2], atMost(0.012).unless(c.short))
	return c.warmYear(l)
}

func (c *charts) warmYear(l *lentic) error {
	c.table.begin("One year to 800 points, warm")
	a, err := c.race(9, year,
		query{name: "lentic", run: l.points(chartWidth)},
		query{name: "tsdb from raw" + oneTank, run: foldPoints(c.series, chartWidth)},
		query{name: "SQLite rollup table of 10 min" + oneTank, run: c.rolledUp(0)},
		query{name: "SQLite rollup table of 1 h" + oneTank, run: c.rolledUp(1)})
	if err != nil {
		return err
	}
	c.table.is("rollups", a[0], a[1], atMost(0.0005).unless(c.short))
	c.table.is("rollups", a[0], a[2], atMost(0.015).unless(c.short))
	c.table.is("rollups", a[0], a[3], noTarget)
	a, err = c.race(5, year,
		query{name: "lentic", run: l.points(rawWidth)},
		query{name: "tsdb from raw" + oneTank, run: foldPoints(c.series, rawWidth)})
	if err != nil {
		return err
	}
	c.table.is("exact, without rollups", a[0], a[1], atMost(0.01).unless(c.short))
	return nil
}

func (l *lentic) points(width time.Duration) func(series int, from, to int64) (int, error) {
	return func(series int, from, to int64) (int, error) { return l.chart(series, from, to, width) }
}

func (c *charts) rolledUp(table int) func(series int, from, to int64) (int, error) {
	return func(series int, from, to int64) (n int, err error) {
		err = c.lite.RolledUp(table, series, from, to, chartWidth.Milliseconds(), func(peer.Sum) { n++ })
		return n, err
	}
}

// cold opens a file for each question, after the kernel has forgotten it.
func (c *charts) cold() error {
	mine := func(ask func(l *lentic, series int, from, to int64) (int, error)) query {
		return query{"lentic", c.path, func(series int, from, to int64) (int, error) {
			l, err := c.openYear()
			if err != nil {
				return 0, err
			}
			n, err := ask(l, series, from, to)
			return n, errors.Join(err, l.Close())
		}}
	}
	theirs := func(ask func(s *peer.SQLite, series int, from, to int64) (int, error)) query {
		return query{"SQLite raw" + oneTank, c.litePath, func(series int, from, to int64) (int, error) {
			s, err := peer.OpenSQLite(c.litePath)
			if err != nil {
				return 0, err
			}
			n, err := ask(s, series, from, to)
			return n, errors.Join(err, s.Close())
		}}
	}
	a, err := c.race(15, 24*time.Hour,
		mine(func(l *lentic, series int, from, to int64) (int, error) { return rawPoints(l)(series, from, to) }),
		theirs(func(s *peer.SQLite, series int, from, to int64) (int, error) { return rawPoints(s)(series, from, to) }))
	if err != nil {
		return err
	}
	c.table.begin("One day raw, 8 640 points, cold with open")
	c.table.is("", a[0], a[1], atMost(0.1).unless(c.short))
	a, err = c.race(9, year,
		mine(func(l *lentic, series int, from, to int64) (int, error) { return l.chart(series, from, to, chartWidth) }),
		theirs(func(s *peer.SQLite, series int, from, to int64) (n int, err error) {
			err = s.Sums(series, from, to, chartWidth.Milliseconds(), func(peer.Sum) { n++ })
			return n, err
		}))
	if err != nil {
		return err
	}
	c.table.begin("One year to 800 points, cold with open")
	c.table.is("", a[0], a[1], atMost(0.0022).unless(c.short))
	return nil
}
