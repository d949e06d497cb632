package main

import (
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
	return c.call(b, "import", daemon.ImportArgs{Name: filepath.Base(c.Readings), Replace: c.Replace}, in, os.Stdout)
}
