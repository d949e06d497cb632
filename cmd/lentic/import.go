package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"lentic/cmd/lentic/daemon"
)

type importCommand struct {
	configured
	Readings string `arg:"" placeholder:"READINGS.csv" help:"Readings as CSV (time,site,tank,sensor,value; .gz works too)."`
	Replace  bool   `help:"Where another value is there, the one given stands."`
}

// Run reads the file itself, for it may lie where only its caller can read, and
// hands its rows to whoever has the store.
func (c *importCommand) Run(b *base) error {
	p := newProgress()
	defer p.clear()
	in, err := openRecording(c.Readings, "importing", p)
	if err != nil {
		return err
	}
	defer in.Close()
	// A signal ends the file after a line, and what came before is stored.
	whole := newLines(b.ctx, in)
	name := filepath.Base(c.Readings)
	err = c.call(&base{ctx: context.WithoutCancel(b.ctx), log: b.log}, "import", daemon.ImportArgs{Name: name, Replace: c.Replace}, whole, os.Stdout)
	if err == nil && whole.stopped {
		err = fmt.Errorf("%s: stopped after line %d: importing the file again goes on from there", name, whole.n)
	}
	return err
}
