package main

import (
	"fmt"

	"lentic/cmd/lentic/daemon"
)

type storeCommand struct {
	Check storeCheckCommand `cmd:"" help:"Read all of the database and name what is damaged; salvage the rest."`
}

type storeCheckCommand struct {
	configured
	File    string `placeholder:"DB" help:"Another database, such as a backup, in place of the one in the data directory."`
	Salvage string `placeholder:"DEST" help:"Make a new database of what is whole; the daemon must be stopped."`
}

func (c *storeCheckCommand) Run(b *base) error {
	cfg, err := c.inForce()
	if err != nil {
		return err
	}
	p := newProgress()
	var found, saved daemon.Checked
	switch {
	case c.Salvage != "":
		found, saved, err = daemon.Salvage(b.ctx, cfg, c.File, c.Salvage, p.step)
	case c.File != "":
		found, err = daemon.CheckFile(b.ctx, c.File, p.step)
	default:
		found, err = daemon.StoreCheck(b.ctx, cfg, p.step)
	}
	p.clear()
	if err == nil || found.Damaged > 0 {
		tell(found)
	}
	if err != nil {
		return unfinished(b, err)
	}
	if c.Salvage != "" {
		fmt.Printf("%s: %s, read back and whole.\n", saved.File, saved.Read)
	}
	if found.Damaged > 0 {
		return daemon.WithStatus(daemon.Mistakes, fmt.Errorf("%s is damaged in %d places", found.File, found.Damaged))
	}
	return nil
}

// tell prints what a check found.
func tell(c daemon.Checked) {
	for _, d := range c.Damage {
		fmt.Println(d)
	}
	if more := c.Damaged - len(c.Damage); more > 0 {
		fmt.Printf("... and %d more places.\n", more)
	}
	for _, d := range c.Aside {
		fmt.Println("known:", d)
	}
	how := "every page and value"
	if c.Live {
		how = "every value; the pages themselves are looked at while the daemon is stopped"
	}
	fmt.Printf("%s: %s read: %s.\n", c.File, c.Read, how)
}
