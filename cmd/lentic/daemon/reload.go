package daemon

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"sync"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// reload reads the file again and puts it in force, or raises
// configuration-refused and leaves everything as it is. Whoever means another
// file than lentic runs on is told.
func (d *Daemon) reload(file string) error {
	if d.o.Config != nil {
		return errors.New("this lentic runs on a configuration of its own")
	}
	if own, err := filepath.Abs(d.o.ConfigPath); err != nil || !sameFile(own, file) {
		return UsageError("lentic runs on %s, and that is what it reads again: put the change there, or start it anew with -c %s", own, file)
	}
	cfg, problems := config.Load(d.o.ConfigPath, config.OS)
	if len(problems) == 0 {
		problems = d.fixed(cfg)
	}
	if len(problems) > 0 {
		d.ownRefused(problems)
		return problems
	}
	setup, err := setupOf(cfg, d.o.LinkBase)
	if err != nil {
		return err
	}
	if err := keepAccepted(cfg); err != nil {
		return err
	}
	if err := d.s.desk.Configure(setup); err != nil {
		return err
	}
	registry := wire.NewRegistry(cfg.Prefix, cfg.Sites)
	registry.Inherit(d.intake.Registry())
	d.sink.derivers.Store(newDerivers(cfg.Sites, d.s.desk.Electrode))
	d.intake.SetRegistry(registry)
	if d.link != nil {
		d.link.sub.SetTopics(registry.Filters())
	}
	d.web.Configure(cfg.Sites, cfg.People)
	d.s.cfg.Store(cfg)
	d.ownRefused(nil)
	_, err = d.adopt()
	return err
}

func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return a == b || err1 == nil && err2 == nil && os.SameFile(x, y)
}

// fixed lists what a running daemon cannot change: where it listens, to whom,
// and where it keeps its data.
func (d *Daemon) fixed(cfg *config.Config) config.Problems {
	old := d.s.cfg.Load()
	var ps config.Problems
	say := func(key string) {
		ps = append(ps, config.Problem{File: cfg.File, Text: key + " cannot change while lentic runs: restart it"})
	}
	if cfg.Data != old.Data {
		say("data")
	}
	if cfg.Web != old.Web {
		say("listen.web")
	}
	if cfg.PublicURL != old.PublicURL {
		say("public_url")
	}
	if !sameMQTT(cfg.MQTT, old.MQTT) {
		say("listen.mqtt")
	}
	if !reflect.DeepEqual(cfg.Broker, old.Broker) {
		say("broker")
	}
	return ps
}

// sameMQTT compares certificates by what they say: as a key is used it
// remembers things.
func sameMQTT(a, b *config.MQTT) bool {
	if a == nil || b == nil {
		return a == b
	}
	x, y := *a, *b
	var p, q [][]byte
	if x.Certificate != nil {
		p, x.Certificate = x.Certificate.Certificate, nil
	}
	if y.Certificate != nil {
		q, y.Certificate = y.Certificate.Certificate, nil
	}
	return reflect.DeepEqual(x, y) && reflect.DeepEqual(p, q)
}

// adopt offers the messages of topics that are claimed now to the intake, as
// they arrived then, and reports how many.
func (d *Daemon) adopt() (int, error) {
	var topics []string
	for _, t := range d.s.store.UnclaimedTopics() {
		if d.intake.Registry().Claims(t.Topic) {
			topics = append(topics, t.Topic)
		}
	}
	if len(topics) == 0 {
		return 0, nil
	}
	return d.s.store.TakeUnclaimed(topics, func(us []aquarium.Unclaimed) error {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		var left sync.WaitGroup
		for _, u := range us {
			left.Add(1)
			d.intake.Offer(ctx, wire.Message{Topic: u.Topic, Payload: u.Payload, QoS: 1, Arrived: u.Arrived, Source: "kept unclaimed"}, left.Done)
		}
		// They are dropped from where they were kept only once they are
		// on disk as readings.
		committed := make(chan struct{})
		go func() { left.Wait(); close(committed) }()
		select {
		case <-committed:
			return nil
		case <-ctx.Done():
			return errors.New("the intake did not take them in time; they stay kept")
		}
	})
}
