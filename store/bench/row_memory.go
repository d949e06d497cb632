package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// memoryDays is how much the peers hold: they cannot be given a year in any
// time that a run may take, and less is to their advantage.
const memoryDays = 2

// memories opens each store in a process of its own and has it take an hour of
// 60 readings a second, a commit for each second. What all these processes
// have in common is what the one with the plain file has.
func (b *bench) memories() error {
	path, err := b.sealYear()
	if err != nil {
		return err
	}
	return b.scratch(func(dir string) error {
		if err := b.fillForMemory(dir); err != nil {
			return err
		}
		held := map[string]int64{}
		for _, name := range []string{"lentic", "plain", "tsdb", "sqlite"} {
			in := dir
			if name == "lentic" {
				in = filepath.Dir(path)
			}
			if held[name], err = b.anonymousAfterAnHour(name, in); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
		mine := size("", held["lentic"])
		b.table.stays("", amount{value: mine.value / (1 << 20), text: mine.text}, atMost(20).in("MiB").unless(b.short()))
		b.table.is("", mine, size(fmt.Sprintf("tsdb (%d days)", memoryDays), held["tsdb"]), atMost(0.35).unless(b.short()))
		b.table.is("", mine, size(fmt.Sprintf("SQLite (%d days)", memoryDays), held["sqlite"]), noTarget)
		b.table.is("", mine, size("such a process with a plain file", held["plain"]), noTarget)
		return nil
	})
}

func (b *bench) anonymousAfterAnHour(name, dir string) (int64, error) {
	c, err := b.startChild("commit", name, dir, fmt.Sprint(b.end.UnixMilli()+24*3600_000), fmt.Sprint(b.seed), "60", "60")
	if err != nil {
		return 0, err
	}
	defer c.stop()
	// A minute a turn: the readings of a turn are held by the process too.
	for range 60 {
		if err := c.turn(true); err != nil {
			return 0, err
		}
	}
	_, anonymous, err := memory(c.cmd.Process.Pid)
	return anonymous, err
}

func (b *bench) fillForMemory(dir string) error {
	t, err := peer.NewTSDB(filepath.Join(dir, "tsdb"), false)
	if err != nil {
		return err
	}
	s, err := peer.NewSQLite(filepath.Join(dir, "sqlite"), false)
	if err != nil {
		return errors.Join(err, t.Close())
	}
	src := tanks.NewSource(tankCount, tanks.Own, b.end.UnixMilli()-memoryDays*86400_000, b.seed)
	var rs []tanks.Reading
	for turn := 0; err == nil && turn < memoryDays*8640; turn++ {
		if rs = src.Next(rs); turn%60 == 59 {
			err = errors.Join(t.Load(rs), s.Load(rs), b.ctx.Err())
			rs = rs[:0]
		}
	}
	return errors.Join(err, t.Close(), s.Close())
}

// sizes: whether a commit costs more where the file is large. Both files are
// lentic's, and take turns with a plain one.
func (b *bench) sizes() error {
	path, err := b.sealYear()
	if err != nil {
		return err
	}
	return b.scratch(func(dir string) error {
		small := filepath.Join(dir, "small")
		if err := os.Mkdir(small, 0o700); err != nil {
			return err
		}
		if err := b.load64MiB(filepath.Join(small, "lentic.db")); err != nil {
			return err
		}
		var all []*contender
		defer func() {
			for _, c := range all {
				c.stop()
			}
		}()
		// A day later no commit falls into a stretch that is sealed: that is late,
		// and looked up.
		begin := fmt.Sprint(b.end.UnixMilli() + 24*3600_000)
		for _, x := range [][2]string{{"lentic", filepath.Dir(path)}, {"lentic", small}, {"plain", dir}} {
			c, err := b.startChild("commit", x[0], x[1], begin, fmt.Sprint(b.seed), "12", "25")
			if err != nil {
				return err
			}
			all = append(all, c)
		}
		if err := b.takeTurns(all, 40); err != nil {
			return err
		}
		large, little, plain := took("", all[0].p50()), took("", all[1].p50()), took("plain file", all[2].p50())
		b.table.is(bytesText(fileSize(path))+" in the file", large, plain, atMost(3).unless(b.short()))
		b.table.is("64 MiB in the file", little, plain, atMost(3))
		little.name = "with 64 MiB"
		b.table.is(bytesText(fileSize(path))+" in the file", large, little, atMost(1.1).unless(b.short()))
		return nil
	})
}

// load64MiB: twelve days are some more than that.
func (b *bench) load64MiB(path string) error {
	short := *b
	short.scale = 12.0 / 365
	_, err := short.loadYear(path, tanks.Own)
	return err
}
