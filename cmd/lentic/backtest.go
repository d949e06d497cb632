package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

type backtestCommand struct {
	configured
	Readings string       `placeholder:"FILE" help:"Readings as CSV (time,site,tank,sensor,value; .gz works too); without it the stored ones."`
	Visits   string       `placeholder:"FILE" help:"Visits as CSV (site,tank,from,to)."`
	From     string       `help:"Over stored readings: first time judged."`
	To       string       `help:"Over stored readings: last time judged."`
	Set      []config.Set `sep:"none" placeholder:"TANK.KEY=VALUE" help:"Try another value, as atrium.limits.co2_mg_l=35, and say what is different; may be repeated."`
	Explain  bool         `help:"With each alarm, what it rests on and what was ruled out."`
	Summary  bool         `help:"Only the summary of each tank."`
	JSON     bool         `name:"json" help:"One JSON object a line."`
}

func (c *backtestCommand) Run(b *base) error {
	if c.Explain && c.Summary {
		return daemon.UsageError("--explain is for the lines of alarms, not beside --summary")
	}
	if c.Readings == "" {
		return c.overStored(b)
	}
	if c.From != "" || c.To != "" {
		return daemon.UsageError("--from and --to are for stored readings, not beside --readings")
	}
	cfg, err := c.load()
	if err != nil {
		return err
	}
	other, err := daemon.Tried(cfg, c.Set)
	if err != nil {
		return err
	}
	journal, err := readVisits(c.Visits, cfg)
	if err != nil {
		return err
	}
	p := newProgress()
	defer p.clear()
	r := recorded{path: c.Readings, cfg: cfg, other: other, journal: journal, p: p}
	found, err := r.judge(b.ctx)
	p.clear()
	if err != nil {
		return err
	}
	found.Explain = c.Explain
	for _, s := range c.Set {
		found.Set = append(found.Set, string(s))
	}
	return found.Write(os.Stdout, c.JSON, c.Summary)
}

func (c *backtestCommand) overStored(b *base) error {
	if c.Visits != "" {
		return daemon.UsageError("--visits goes with --readings: over stored readings the journal's own visits are applied")
	}
	if c.From == "" || c.To == "" {
		return daemon.UsageError("want --readings FILE, or --from and --to")
	}
	from, to, err := between(c.From, c.To)
	if err != nil {
		return err
	}
	out, stop := newProgress().during("judging the stored readings", os.Stdout)
	defer stop()
	return c.call(b, "backtest", daemon.BacktestArgs{From: from, To: to, Set: c.Set, JSON: c.JSON, Summary: c.Summary, Explain: c.Explain}, nil, out)
}

// readVisits reads site,tank,from,to with a header line; an empty path is no
// visits. A visit that cannot be meant is an error: left out, it would change
// what is found.
func readVisits(path string, cfg *config.Config) ([]aquarium.Entry, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.FieldsPerRecord = 4
	var visits []aquarium.Entry
	for n := 0; ; n++ {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			return visits, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		if n == 0 && row[0] == "site" {
			continue
		}
		line, _ := in.FieldPos(0)
		from, err1 := time.Parse(time.RFC3339, row[2])
		to, err2 := time.Parse(time.RFC3339, row[3])
		if err := errors.Join(err1, err2); err != nil {
			return nil, fmt.Errorf("%s:%d: want site,tank,from,to with times as 2031-03-02T02:14:30Z: %w", path, line, err)
		}
		e := aquarium.Entry{ID: fmt.Sprintf("visit-%d", line), Kind: aquarium.Visit,
			Site: aquarium.SiteID(row[0]), Tank: aquarium.TankID(row[1]), At: aquarium.At(from), Until: aquarium.At(to)}
		if s := cfg.Site(e.Site); s == nil || s.Tank(e.Tank) == nil {
			return nil, fmt.Errorf("%s:%d: %w: %s/%s", path, line, aquarium.ErrUnknownTank, e.Site, e.Tank)
		}
		if e.At >= e.Until {
			return nil, fmt.Errorf("%s:%d: the visit ends %s, before it begins", path, line, e.Until)
		}
		visits = append(visits, e)
	}
}
