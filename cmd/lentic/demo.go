package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"time"

	"lentic/cmd/lentic/daemon"
	"lentic/cmd/lentic/scene"
)

type demoCommand struct {
	Speed float64 `default:"1" help:"How many times as fast as life; the whole daemon's clock runs so."`
	Web   string  `default:"127.0.0.1:8420" help:"Address of the pages; another port where this one is taken."`
	MQTT  string  `name:"mqtt" default:"127.0.0.1:1883" help:"Address of the broker; another port where this one is taken."`
}

// Run shows the main job: nothing of it is kept when it ends.
func (c *demoCommand) Run(b *base) error {
	if !(c.Speed >= 1 && c.Speed <= 1000) {
		return daemon.UsageError("--speed %g: want 1 to 1000", c.Speed)
	}
	data, err := os.MkdirTemp("", "lentic-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(data)
	web, err := orFree(c.Web)
	if err != nil {
		return err
	}
	mqtt, err := orFree(c.MQTT)
	if err != nil {
		return err
	}
	fmt.Println("Three invented places; everything stays on this machine and is gone when you stop it (Ctrl-C).")
	s, err := scene.New(scene.Options{Data: data, Web: web, MQTT: mqtt, Show: os.Stdout, Speed: c.Speed})
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(b.ctx)
	defer stop()
	ended := make(chan error, 1)
	started := false
	err = daemon.Run(ctx, daemon.Options{
		Config: s.Config, Version: version, Log: b.log,
		Now: s.Clock.Now, After: func(d time.Duration) <-chan time.Time { return time.After(s.Clock.Real(d)) }, Speed: c.Speed,
		LinkBase: "http://" + web,
		Seed:     s.Remember,
		Texts:    s.Provider.Run,
		Ready: func(web, mqtt string) {
			fmt.Printf("\n  Open  http://%s\n\n  Readings come in over MQTT at %s. Three things are about to go wrong; their texts appear below.\n", web, mqtt)
			started = true
			go func() { ended <- s.Run(ctx, mqtt) }()
		},
	})
	stop()
	if started {
		err = errors.Join(err, <-ended)
	}
	return err
}

// orFree is addr, or a free port of the same host where addr is taken.
func orFree(addr string) (string, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		host, _, splitErr := net.SplitHostPort(addr)
		if splitErr != nil {
			return "", daemon.UsageError("address %q: %v", addr, splitErr)
		}
		if l, err = net.Listen("tcp", net.JoinHostPort(host, "0")); err != nil {
			return "", err
		}
	}
	defer l.Close()
	return l.Addr().String(), nil
}
