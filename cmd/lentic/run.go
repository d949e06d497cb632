package main

import (
	"lentic/cmd/lentic/daemon"
)

type runCommand struct {
	configured
	Dev string `placeholder:"DIR" help:"Read templates and bundle from this folder for each page (loopback only; for work on the pages)."`
}

func (c *runCommand) Run(b *base) error {
	return daemon.Run(b.ctx, daemon.Options{
		ConfigPath: c.Config, Version: version, Dev: c.Dev, Log: b.log,
	})
}
