package daemon

import (
	"context"
	"errors"
	"io"
	"iter"
	"reflect"
	"runtime"
	"sync"

	"lentic/alert"
	"lentic/alert/detect"
	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
)

// backtest judges stored readings again, several sites at once.
func backtest(ctx context.Context, s *services, a BacktestArgs, out io.Writer) error {
	if a.From >= a.To {
		return UsageError("--from %s is not before --to %s", a.From, a.To)
	}
	cfg := s.cfg.Load()
	other, err := Tried(cfg, a.Set)
	if err != nil {
		return err
	}
	found := make([][2][]Line, len(cfg.Sites))
	errs := make([]error, len(cfg.Sites))
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for i, site := range cfg.Sites {
		free <- struct{}{}
		wg.Go(func() {
			defer func() { <-free }()
			journal := s.desk.Journal(site.ID, "", 0, a.To) // all of it: a hand test or a calibration counts until the next
			found[i][0], found[i][1], errs[i] = storedTrial(s.store, [2]aquarium.Site{site, other.Sites[i]}, journal, a.From, a.To, func() bool { return ctx.Err() == nil })
		})
	}
	wg.Wait()
	if err := errors.Join(append(errs, ctx.Err())...); err != nil {
		return err
	}
	r := Report{Set: names(a.Set), Explain: a.Explain}
	for i, site := range cfg.Sites {
		r.Add(site, found[i][1], found[i][0], Span{a.From, a.To})
	}
	return r.Write(out, a.JSON, a.Summary)
}

// Tried is the configuration with single values changed; their mistakes are the
// error.
func Tried(cfg *config.Config, sets []config.Set) (*config.Config, error) {
	if len(sets) == 0 {
		return cfg, nil
	}
	other, problems := config.ParseSet(cfg.File, cfg.Source, config.OS, sets)
	return other, problems.Err()
}

func names(sets []config.Set) (ns []string) {
	for _, s := range sets {
		ns = append(ns, string(s))
	}
	return ns
}

// storedTrial judges a site's stored readings in (from, to], with what led up to
// them. Each configuration reads them its own way.
func storedTrial(h alert.History, sites [2]aquarium.Site, journal []aquarium.Entry, from, to aquarium.Instant, going func() bool) (lines, other []Line, err error) {
	var found [2][]Line
	var failed [2]error
	var wg sync.WaitGroup
	n := 2
	if reflect.DeepEqual(sites[0], sites[1]) {
		n = 1
	}
	for i := range n {
		wg.Go(func() {
			found[i] = Backtest(sites[i], ahead(stored(h, sites[i], journal, from, to, going, &failed[i])), journal, from, to)
		})
	}
	wg.Wait()
	if n == 1 {
		found[1] = found[0]
	}
	for _, err := range failed {
		if err != nil {
			return nil, nil, err
		}
	}
	return found[0], found[1], nil
}

// stored is the site's stored readings as samples, with what led up to from,
// while going says so; *err is set where they cannot be read.
func stored(h alert.History, site aquarium.Site, journal []aquarium.Entry, from, to aquarium.Instant, going func() bool, err *error) iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		n := 0
		*err = alert.Samples(h, site, journal, from.Add(-detect.RunUp), to.Add(aquarium.Step), func(s aquarium.Sample) bool {
			n++
			return yield(s) && (n%batchSamples != 0 || going())
		})
	}
}
