// Package daemon builds lentic's services from a configuration and lets them
// run: the wiring, and only the wiring. Services are strangers to each other;
// here they meet. What comes in goes the same way every time (see sink): it is
// stored, then judged, then shown, then acknowledged.
//
// It also holds the operations that commands perform on a store, whether a
// daemon runs on it (then over the control socket) or not.
package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"lentic/cmd/lentic/config"
	"lentic/collector"
	"lentic/collector/aquarium"
	"lentic/collector/broker"
	"lentic/collector/wire"
	"lentic/store"
	"lentic/web"
)

// Options of a run. The zero value of all but ConfigPath or Config has a
// meaning.
type Options struct {
	ConfigPath string
	Config     *config.Config // in place of the file at ConfigPath; cannot be reloaded
	Version    string
	Dev        string       // folder of templates and bundle, read for each page
	Log        *slog.Logger // nil: silent

	// What only the demo sets.
	Now      func() time.Time
	After    func(time.Duration) <-chan time.Time
	Speed    float64
	LinkBase string                          // in the texts, in place of public_url
	Seed     func(*store.Store) error        // before anything is judged
	Ready    func(web, mqtt string)          // once both listen
	Texts    func(ctx context.Context) error // a provider of its own, run beside
}

// Daemon is everything that runs.
type Daemon struct {
	o        Options
	s        *services
	sink     *sink
	intake   *collector.Intake
	broker   *broker.Broker
	feed     *web.Feed
	web      *web.Server
	registry *prometheus.Registry
	link     *brokerLink
	hearing  hearing
	stuck    stuck
}

// Run takes readings in, keeps, judges, tells and shows them until ctx ends.
func Run(ctx context.Context, o Options) error {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	cfg, refused := o.Config, config.Problems(nil)
	if cfg == nil {
		var err error
		if cfg, refused, err = LoadInForce(o.ConfigPath); err != nil {
			return err
		}
	}
	d, err := build(cfg, o)
	if errors.Is(err, store.ErrLocked) {
		return fmt.Errorf("another lentic, or one of its commands, is at work in %s: stop it, have it read its file anew with lentic reload, or give this one a data directory of its own: %w", cfg.Data, err)
	}
	if err != nil {
		return err
	}
	err = d.run(ctx, refused)
	return errors.Join(err, d.s.close())
}

// lockPatience is how long a start waits for a database that another process has
// open: a command that found no daemon may have it for a moment, and nobody may be
// kept from watching by that.
const lockPatience = 5 * time.Second

// build makes the services; nothing moves yet.
func build(cfg *config.Config, o Options) (_ *Daemon, err error) {
	d := &Daemon{o: o, feed: web.NewFeed(), registry: prometheus.NewRegistry()}
	d.registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	for until := time.Now().Add(lockPatience); ; time.Sleep(lockPatience / 50) {
		d.s, err = open(cfg, o.Version, clock{o.Now, o.After}, deskOptions{
			linkBase: o.LinkBase, metrics: d.registry, onTransition: d.feed.PublishAlarm,
		}, o.Log)
		if !errors.Is(err, store.ErrLocked) || time.Now().After(until) {
			break
		}
	}
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, d.s.close())
		}
	}()
	d.s.reload, d.s.adopt = d.reload, d.adopt
	d.sink = &sink{store: d.s.store, note: d.s.desk.Note, take: d.s.desk.Take, publish: d.feed.Publish, behind: d.s.past.forget}
	d.sink.derivers.Store(newDerivers(cfg.Sites, d.s.desk.Electrode))
	d.intake = collector.New(collector.Options{
		Registry: wire.NewRegistry(cfg.Prefix, cfg.Sites), Sink: d.sink, OnFull: d.diskFull,
		Now: d.s.now, Log: o.Log, Metrics: d.registry,
	})
	if err := d.buildListeners(cfg); err != nil {
		return nil, err
	}
	return d, nil
}

func (d *Daemon) buildListeners(cfg *config.Config) (err error) {
	if cfg.MQTT != nil {
		if d.broker, err = d.newBroker(cfg.MQTT); err != nil {
			return err
		}
		if err = d.broker.Listen(); err != nil {
			return err
		}
	}
	if cfg.Broker != nil {
		if d.link, err = newBrokerLink(cfg, d); err != nil {
			return err
		}
	}
	var ui fs.FS
	if d.o.Dev != "" {
		if cfg.WebOpen {
			return UsageError("--dev is for loopback only")
		}
		ui = os.DirFS(d.o.Dev)
	}
	d.web, err = web.New(web.Options{
		Address: cfg.Web, PublicURL: cfg.PublicURL, Sites: cfg.Sites, People: cfg.People,
		Readings: d.s.store, Desk: office{d.s.desk}, Before: d.s.past.spells, Intake: d.s.store, Ledger: d.s.store, Feed: d.feed,
		Blind: d.blind, Health: d.health, Learning: d.s.desk.Learning, Metrics: d.registry, UI: ui, Speed: d.o.Speed, Now: d.s.now, Log: d.o.Log,
	})
	return err
}

// blind says in words what cannot be judged at a tank.
func (d *Daemon) blind(site aquarium.Site, tank aquarium.Tank) []string {
	var out []string
	calibrated := func(id aquarium.SensorID) bool {
		_, ok := d.s.desk.Electrode(aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: id}).InForce(aquarium.At(d.s.now()))
		return ok
	}
	for _, b := range config.SightOf(site, tank, calibrated).Blind {
		out = append(out, fmt.Sprintf("%s: %s", b.Cause, b.Why))
	}
	return out
}

// run starts the services from the store outwards and stops them from the
// outside inwards.
func (d *Daemon) run(ctx context.Context, refused config.Problems) error {
	cfg := d.s.cfg.Load()
	if d.o.Seed != nil {
		if err := d.o.Seed(d.s.store); err != nil {
			return err
		}
	}
	if len(refused) == 0 && d.o.Config == nil {
		if err := keepAccepted(cfg); err != nil {
			return fmt.Errorf("keep the accepted configuration: %w", err)
		}
	}
	d.ownRefused(refused)
	d.hearing.begin(d.s.desk, d.link != nil, d.s.now, d.o.Log)
	control, err := listenControl(cfg.Data)
	if err != nil {
		return err
	}
	stages := []stage{
		{"housekeeping", d.s.store.Run},
		{"control socket", func(ctx context.Context) error { return serveControl(ctx, control, d.s) }},
	}
	if d.o.Texts != nil {
		stages = append(stages, stage{"text provider", d.o.Texts})
	}
	stages = append(stages,
		stage{"pages", d.web.Run},
		stage{"alarm desk", d.s.desk.Run},
		stage{"watch on lentic itself", func(ctx context.Context) error { d.watchSelf(ctx); return nil }},
		stage{"intake", d.intake.Run},
	)
	if d.link != nil {
		stages = append(stages, stage{"subscription", d.link.run})
	}
	if d.broker != nil {
		stages = append(stages, stage{"broker", d.broker.Run})
	}
	stages = append(stages, stage{"announcement", d.announce})
	return runStages(ctx, stages...)
}

// announce says once that everything listens.
func (d *Daemon) announce(ctx context.Context) error {
	listening := d.web.Addr()
	if listening == nil { // it gave up, and says why itself
		<-ctx.Done()
		return nil
	}
	at, mqtt := listening.String(), ""
	if d.broker != nil {
		mqtt = d.broker.Addr()
	}
	if n, err := d.adopt(); err != nil {
		d.o.Log.Error("unclaimed messages could not be adopted", "err", err)
	} else if n > 0 {
		d.o.Log.Info("unclaimed messages adopted", "messages", n)
	}
	d.o.Log.Info("lentic is watching", "pages", "http://"+at, "mqtt", mqtt, "sites", len(d.s.cfg.Load().Sites))
	if d.o.Ready != nil {
		d.o.Ready(at, mqtt)
	}
	<-ctx.Done()
	return nil
}

// watchSelf looks after what lentic needs itself until ctx ends.
func (d *Daemon) watchSelf(ctx context.Context) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		heartbeat(ctx, nil, func() string { return d.s.cfg.Load().Heartbeat }, d.health, d.o.Log)
	}()
	watchDisk(ctx, d.s.store.FreeSpace, d.own, d.o.Log)
	<-done
}

// own raises or returns a cause of lentic's own.
func (d *Daemon) own(c aquarium.Cause, on bool, ev aquarium.Evidence) {
	if err := d.s.desk.Own(c, on, ev); err != nil {
		d.o.Log.Error("alarm about lentic itself", "alarm", c, "err", err)
	}
}

func (d *Daemon) ownRefused(ps config.Problems) {
	ev := aquarium.Evidence{Value: float64(len(ps))}
	if len(ps) > 0 {
		d.o.Log.Error("the configuration is refused; the last accepted one goes on", "err", ps.Error())
		ev.Facts = []aquarium.Fact{{Name: "first", Word: ps[0].String()}}
	}
	d.own(aquarium.ConfigurationRefused, len(ps) > 0, ev)
}

// health lists why readings cannot be taken in, stored or judged now.
func (d *Daemon) health() []string {
	why := d.s.desk.Health()
	if d.hearing.full() { // and so lentic stays away from its broker, and stores nothing
		return append(why, "the disk is full: readings stay with their senders")
	}
	if d.link != nil && !d.link.connected() {
		why = append(why, "the broker is not connected")
	}
	if d.stuck.stands(d.intake.Stats().Queued, d.sink.commits.Load(), d.s.now()) {
		why = append(why, "readings are not being stored")
	}
	return why
}
