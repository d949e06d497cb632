package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
)

type backupCommand struct {
	configured
	Dest string `arg:"" placeholder:"DEST" help:"The backup: a file that does not exist, or a folder for one named after the time."`
}

func (c *backupCommand) Run(b *base) error {
	cfg, err := c.inForce()
	if err != nil {
		return err
	}
	dest := c.Dest
	if info, err := os.Stat(dest); err == nil && info.IsDir() {
		dest = filepath.Join(dest, time.Now().UTC().Format("lentic-20060102T150405Z.db"))
	}
	p := newProgress()
	f, err := daemon.Backup(b.ctx, cfg, version, dest, p.step)
	p.clear()
	if errors.Is(err, fs.ErrExist) {
		return err
	}
	if err != nil {
		return unfinished(b, fmt.Errorf("no backup was made: %w", err))
	}
	for _, d := range f.Damage {
		fmt.Fprintln(os.Stderr, "lentic:", d)
	}
	size := int64(0)
	if info, err := os.Stat(dest); err == nil {
		size = info.Size()
	}
	fmt.Printf("%s: %s; %.1f MiB, read back and compared.\n", dest, f.Read(), float64(size)/(1<<20))
	if f.Damaged > 0 {
		return daemon.WithStatus(daemon.Mistakes, fmt.Errorf("the backup is complete, but the database is damaged in %d places, and so is the backup: see lentic store check", f.Damaged))
	}
	return nil
}

type restoreCommand struct {
	configured
	Src       string `arg:"" placeholder:"SRC" help:"A backup."`
	Overwrite bool   `help:"Replace the database that is there."`
}

func (c *restoreCommand) Run(b *base) error {
	cfg, err := c.inForce()
	if err != nil {
		return err
	}
	p := newProgress()
	r, err := daemon.Restore(b.ctx, cfg, c.Src, c.Overwrite, p.step)
	p.clear()
	if err != nil {
		return unfinished(b, fmt.Errorf("nothing was restored: %w", err))
	}
	fmt.Printf("%s is restored in %s: %s.\n", c.Src, cfg.Data, r.Read())
	if !r.Newest.IsZero() {
		fmt.Printf("Its newest reading is of %s.\n", r.Newest.UTC().Format(time.RFC3339))
	}
	if r.Over {
		fmt.Println("The database that was there is gone.")
	}
	fmt.Printf("%d messages that had not left are marked as failed, and are never sent. %d alarms stand as they stood then; nobody is told of the time since. Look at the rounds page.\n",
		r.Closed.Messages, r.Closed.Alarms)
	if cfg.Broker != nil {
		fmt.Printf("To the broker lentic is a new client, lentic-%.16s. What the broker still holds for lentic-%.16s is not fetched: end that session there.\n", r.NewID, r.OldID)
	}
	return nil
}

// unfinished is err; where a signal stopped the work it counts as failed, so
// that whatever waits for it does not go on.
func unfinished(b *base, err error) error {
	if b.ctx.Err() != nil {
		return daemon.WithStatus(daemon.Failed, err)
	}
	return err
}

// inForce is the configuration in force: the file, or where that has mistakes
// the last one that was accepted.
func (c configured) inForce() (*config.Config, error) {
	cfg, refused, err := daemon.LoadInForce(c.Config)
	if len(refused) > 0 {
		fmt.Fprintf(os.Stderr, "lentic: %s has mistakes (see lentic check): the last accepted configuration is used\n", c.Config)
	}
	return cfg, err
}
