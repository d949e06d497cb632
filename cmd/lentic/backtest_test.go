package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"lentic/alert"
	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/sim"
	"lentic/store"
	"lentic/store/ledger"
)

// TestLiveAndBacktestAgree lives through one morning at two sites, with gaps, a
// restart, a visit and readings out of order, in which many causes happen at
// least once: a desk over a real store, to which each reading comes
// at its own time, and `lentic backtest` over the same readings as CSV must
// tell the same alarms at the same times. A reading out of order is judged live
// with the tick after its arrival and in a backtest with its own, so there the
// times may lie two steps apart, else one.
func TestLiveAndBacktestAgree(t *testing.T) {
	for _, c := range []struct {
		name      string
		disorder  float64 // share of readings that come out of order
		tolerance time.Duration
		seed      uint64
	}{
		{"in order", 0, aquarium.Step, 11},
		{"out of order", 0.1, 2 * aquarium.Step, 11},
		{"out of order again", 0.2, 2 * aquarium.Step, 12},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			path := writeConfig(t, dir, morningConfig)
			cfg, err := daemon.LoadConfig(path)
			if err != nil {
				t.Fatal(err)
			}
			readings := morning(t, cfg, c.disorder, c.seed)
			live := lived(t, cfg, readings)
			replayed := backtested(t, cfg, dir, readings)
			maps.Copy(replayed, silences(cfg, readings))
			compareEvents(t, live, replayed, c.tolerance)
			last := what{"quillmere-library", "warm", aquarium.TemperatureHigh, "", aquarium.ReadingsStopped}
			if n := len(replayed[last]); n != 1 {
				t.Errorf("%v: %d times, want 1", last, n)
			}
			stalled := what{visitedTank.Site, visitedTank.Tank, aquarium.FilterStalled, "b", aquarium.Raised}
			if n := len(replayed[stalled]); n != 2 {
				t.Errorf("%v: told %d times: want 2, before and after the visit", stalled, n)
			}
			for _, cause := range morningCauses {
				if !slices.ContainsFunc(slices.Collect(maps.Keys(replayed)), func(w what) bool { return w.cause == cause && w.event == aquarium.Raised }) {
					t.Errorf("%s: never raised in this morning, so nothing is shown of it", cause)
				}
			}
		})
	}
}

// morningCauses are those that must happen in it. Others take longer than a
// morning, or a part that none of its tanks has.
var morningCauses = []aquarium.Cause{
	aquarium.PowerLost, aquarium.SiteSilent, aquarium.GatewayClockWrong, aquarium.FloorWet, aquarium.CO2ValveStuck, aquarium.CO2Overshoot,
	aquarium.PHFalling, aquarium.PHLow, aquarium.PHHigh, aquarium.TopOffRunaway, aquarium.FilterStalled, aquarium.TemperatureHigh,
	aquarium.TemperatureLow, aquarium.SensorSilent,
}

const morningConfig = `data: ./data
people: [ { id: keeper, name: Keeper, email: keeper@example.net } ]
channels: [ { id: mail, kind: smtp, host: 127.0.0.1, port: 9, from: watch@example.net } ]
call_out: { high: [ { tell: keeper, by: mail } ], medium: [ { tell: keeper, by: mail } ], low: [ { tell: keeper, by: mail } ] }
sites:
  - id: quillmere-library
    name: Quillmere Library
    timezone: Europe/London
    tanks:
      - &planted
        id: overshoot
        name: Overshoot
        size: { length_cm: 150, width_cm: 60, fill_cm: 52, displaced_l: 40 }
        started: 2030-02-10
        substrate: inert
        alkalinity_dkh: 4
        limits: { ph: [5.5, 8.4], temperature: [18, 32], co2_mg_l: 50 }
        sensors:
          ph: { quantity: ph }
          water: { quantity: temperature }
          level: { quantity: level }
          flow-a: { quantity: flow }
          flow-b: { quantity: flow }
          valve: { quantity: switch }
          topoff: { quantity: switch }
          store: { quantity: volume }
        equipment:
          co2: { ph: ph, target: 6.6, band: 0.05, valve: valve, hours: "07:00-18:00" }
          top_off: { level: level, band_mm: 4, pump: topoff, rate_l_h: 90, from: store }
          filters: [ { id: a, flow: flow-a, rated_l_h: 1100 }, { id: b, flow: flow-b, rated_l_h: 1100 } ]
      - id: stuck
        name: Stuck valve
        limits: { ph: [5.5, 8.4] }
        sensors: { ph: { quantity: ph }, valve: { quantity: switch } }
        equipment: { co2: { ph: ph, target: 6.6, band: 0.05, valve: valve } }
      - { <<: *planted, id: runaway, name: Runaway }
      - { <<: *planted, id: stalled, name: Stalled }
      - { <<: *planted, id: visited, name: Visited }
      - &plain
        id: sour
        name: Sour
        limits: { ph: [6.2, 8.4], temperature: [22, 28] }
        sensors: { ph: { quantity: ph }, water: { quantity: temperature }, floor: { quantity: switch } }
        equipment: { floor: { wet: floor } }
      - { <<: *plain, id: warm, name: Warm }
      - { <<: *plain, id: cold, name: Cold }
  - id: hotel-sarnbrook
    name: Hotel Sarnbrook
    timezone: Europe/London
    tanks: [ { <<: *plain, id: lobby, name: Lobby wall } ]
`

const (
	morningEvery  = 15 * time.Second
	morningLasts  = 235 * time.Minute
	restartAt     = 90 * time.Minute
	restartTakes  = 40 * time.Second
	visitAt       = 150 * time.Minute
	visitLasts    = 30 * time.Minute
	outOfOrderFor = 16 * time.Second // after the sensor's next one
)

var (
	morningStart = aquarium.At(time.Date(2031, 3, 3, 7, 0, 0, 0, time.UTC))
	visitedTank  = aquarium.TankKey{Site: "quillmere-library", Tank: "visited"}
)

// simulatedFaults are what happens at the simulated tanks, by minutes.
var simulatedFaults = map[aquarium.TankID][]struct {
	fault       sim.Fault
	from, until int
	strength    float64
	filter      aquarium.EquipmentKey
}{
	"overshoot": {{fault: sim.CO2CommandedOpen, from: 30, until: 160, strength: 3}},
	"runaway":   {{fault: sim.TopOffRunaway, from: 40, until: 75}},
	"stalled":   {{fault: sim.FilterStall, from: 60, until: 130, filter: "a"}},
	"visited":   {{fault: sim.FilterStall, from: 120, until: 210, filter: "b"}},
}

// told are the values of the tanks that only tell: minutes and what holds from
// then on, going straight to the next value with "~".
var told = map[aquarium.TankID]map[aquarium.SensorID]string{
	"stuck": {"ph": "0:6.62 60:6.6 ~110:6.2 ~160:6.22 ~205:6.9", "valve": "0:1 60:0"},
	"sour":  {"ph": "0:6.9 60:6.9 ~140:5.9 180:5.9 ~230:6.9", "water": "0:25", "floor": "0:0 60:1 80:0"},
	"warm":  {"ph": "0:7.6 ~90:8.8 ~160:7.6", "water": "0:26 60:26 ~120:29 130:none 150:29 ~200:26", "floor": "0:0"},
	"cold":  {"ph": "0:7 110:none 180:7", "water": "0:24 60:24 ~120:21 ~200:24", "floor": "0:0"},
	"lobby": {"ph": "0:7 120:none 165:7", "water": "0:25 120:none 165:25", "floor": "0:0 120:none 165:0"},
}

// gatewaySays is what the gateway of Hotel Sarnbrook says of itself.
var gatewaySays = []struct {
	minute int
	item   string
	value  float64
}{
	{0, aquarium.GatewayPresent, 1}, {0, aquarium.GatewayMains, 1},
	{60, aquarium.GatewayClock, -86400}, {61, aquarium.GatewayClock, -86400},
	{200, aquarium.GatewayMains, 0}, {215, aquarium.GatewayMains, 1},
}

// arriving is a reading and when it comes.
type arriving struct {
	aquarium.Reading
	comes aquarium.Instant
}

func minutesIn(m int) aquarium.Instant { return morningStart.Add(time.Duration(m) * time.Minute) }

// morning is every reading of both sites, in the order of their arrival.
func morning(t *testing.T, cfg *config.Config, disorder float64, seed uint64) []arriving {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, seed))
	var all []arriving
	add := func(r aquarium.Reading) { all = append(all, arriving{r, r.At.Add(300 * time.Millisecond)}) }
	for _, g := range gatewaySays {
		add(aquarium.Reading{Sensor: aquarium.SensorKey{Site: "hotel-sarnbrook", Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor("gw1", g.item)},
			At: minutesIn(g.minute), Value: g.value})
	}
	for _, site := range cfg.Sites {
		for n, tank := range site.Tanks {
			read := tellsOf(site.ID, tank, rng)
			if told[tank.ID] == nil {
				read = simulates(site, tank, uint64(n+1))
			}
			for at := morningStart; at <= morningStart.Add(morningLasts); at = at.Add(morningEvery) {
				for _, r := range read(at) {
					if at > morningStart && rng.Float64() < 0.03 { // a gap
						continue
					}
					add(r)
					if rng.Float64() < disorder {
						all[len(all)-1].comes = r.At.Add(outOfOrderFor)
					}
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b arriving) int { return cmp.Compare(a.comes, b.comes) })
	return all
}

func simulates(site aquarium.Site, tank aquarium.Tank, seed uint64) func(aquarium.Instant) []aquarium.Reading {
	o := sim.Options{Seed: seed, Start: morningStart.Add(-morningEvery)}
	for _, f := range simulatedFaults[tank.ID] {
		o.Faults = append(o.Faults, sim.Planned{Fault: f.fault, At: minutesIn(f.from), Until: minutesIn(f.until), Strength: f.strength, Equipment: f.filter})
	}
	pretend := sim.New(tank, site.ID, site.Timezone, o)
	return func(at aquarium.Instant) []aquarium.Reading {
		pretend.Advance(at)
		return pretend.Readings()
	}
}

func tellsOf(site aquarium.SiteID, tank aquarium.Tank, rng *rand.Rand) func(aquarium.Instant) []aquarium.Reading {
	return func(at aquarium.Instant) (rs []aquarium.Reading) {
		for _, s := range tank.Sensors {
			v := valueAt(told[tank.ID][s.ID], at.Sub(morningStart).Minutes())
			if math.IsNaN(v) {
				continue
			}
			if s.Quantity != aquarium.Switch {
				v += 0.004 * (rng.Float64() - 0.5)
			}
			rs = append(rs, aquarium.Reading{Sensor: aquarium.SensorKey{Site: site, Tank: tank.ID, Sensor: s.ID}, At: at, Value: v, Unit: s.Quantity.Unit()})
		}
		return rs
	}
}

// valueAt reads "minute:value ..." at a minute; NaN where nothing is told.
func valueAt(path string, minute float64) float64 {
	v, since := math.NaN(), 0.0
	for _, step := range strings.Fields(path) {
		at, word, _ := strings.Cut(strings.TrimPrefix(step, "~"), ":")
		m, _ := strconv.ParseFloat(at, 64)
		next, err := strconv.ParseFloat(word, 64)
		if err != nil {
			next = math.NaN()
		}
		if m > minute {
			if strings.HasPrefix(step, "~") {
				v += (next - v) * (minute - since) / (m - since)
			}
			return v
		}
		v, since = next, m
	}
	return v
}

// what is one kind of event; its times are compared.
type what struct {
	site      aquarium.SiteID
	tank      aquarium.TankID
	cause     aquarium.Cause
	equipment aquarium.EquipmentKey
	event     aquarium.Event
}

type events map[what][]aquarium.Instant

// lived hands each reading to a desk over a real store when it comes.
func lived(t *testing.T, cfg *config.Config, readings []arriving) events {
	t.Helper()
	found := events{}
	synctest.Test(t, func(t *testing.T) {
		world := time.Now()
		now := func() time.Time { return morningStart.Time().Add(time.Since(world)) }
		db, err := store.Open(filepath.Join(inMemory(t), "live.db"), store.Options{Now: now, Reserve: -1})
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		meaning := meanings(cfg)
		var desk *alert.Desk
		up := func() (down func()) {
			if desk, err = alert.New(alert.Options{Setup: alert.Setup{Sites: cfg.Sites}, History: db, Ledger: db, Now: now}); err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithCancel(context.Background())
			done := make(chan error, 1)
			go func() { done <- desk.Run(ctx) }()
			return func() {
				cancel()
				if err := <-done; err != nil {
					t.Errorf("desk: %v", err)
				}
			}
		}
		until := func(at aquarium.Instant) { time.Sleep(at.Sub(aquarium.At(now()))); synctest.Wait() }
		down := up()
		restarted, visited := false, false
		for len(readings) > 0 {
			next := readings[0].comes
			if !restarted && next >= morningStart.Add(restartAt) {
				restarted = true
				down()
				until(morningStart.Add(restartAt + restartTakes)) // what comes meanwhile is sent again
				down = up()
				synctest.Wait()
			}
			if begins := morningStart.Add(visitAt); !visited && next >= begins {
				visited = true
				until(begins)
				if _, err := desk.StartVisit(visitedTank, visitLasts, "keeper", ""); err != nil {
					t.Fatal(err)
				}
			}
			until(next)
			var rs []aquarium.Reading
			for ; len(readings) > 0 && readings[0].comes <= aquarium.At(now()); readings = readings[1:] {
				rs = append(rs, readings[0].Reading)
			}
			o, err := db.Append(aquarium.Batch{Readings: rs, Arrived: aquarium.At(now())}, func(tx ledger.Tx, o aquarium.Outcome) error {
				return desk.Note(tx, o, aquarium.At(now()))
			})
			if err != nil {
				t.Fatal(err)
			}
			var ss []aquarium.Sample
			for _, r := range o.Fresh {
				if s, ok := meaning(r); ok {
					ss = append(ss, s)
				}
			}
			desk.Take(ss)
		}
		until(morningStart.Add(morningLasts + 2*aquarium.Step))
		as, err := desk.Alarms(alert.Filter{})
		if err != nil {
			t.Fatal(err)
		}
		down()
		for _, a := range as {
			if !a.Cause.Own() {
				found.record(a)
			}
		}
	})
	return found
}

// inMemory is a folder whose files need no disk, where the system has one: what
// is shown here is no matter of how slowly a disk syncs.
func inMemory(t *testing.T) string {
	dir, err := os.MkdirTemp("/dev/shm", "lentic-test-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

func meanings(cfg *config.Config) func(aquarium.Reading) (aquarium.Sample, bool) {
	known := map[aquarium.SensorKey]*measure.Deriver{}
	return func(r aquarium.Reading) (aquarium.Sample, bool) {
		if known[r.Sensor] == nil && r.Sensor.Tank == aquarium.SiteWide {
			known[r.Sensor] = measure.ForGateway(r.Sensor)
		} else if known[r.Sensor] == nil {
			known[r.Sensor] = measure.For(r.Sensor, *cfg.Site(r.Sensor.Site).Tank(r.Sensor.Tank).Sensor(r.Sensor.Sensor))
		}
		return known[r.Sensor].Sample(r)
	}
}

// record turns an alarm's own history into the events a backtest would print.
func (es events) record(a aquarium.Alarm) {
	cause := a.Cause
	for _, h := range slices.Backward(a.History) { // back to its first name
		if from, _, ok := strings.Cut(h.Note, " > "); ok && h.What == string(aquarium.Renamed) {
			cause = aquarium.Cause(from)
		}
	}
	stands := false
	add := func(e aquarium.Event, at aquarium.Instant) {
		if stands != (e == aquarium.Raised) {
			w := what{a.Site, a.Tank, cause, a.Equipment, e}
			es[w] = append(es[w], at)
			stands = !stands
		}
	}
	for _, h := range a.History {
		switch h.What {
		case string(aquarium.ReadingsStopped), string(aquarium.ReadingsBack):
			w := what{a.Site, a.Tank, cause, a.Equipment, aquarium.Event(h.What)}
			es[w] = append(es[w], h.At)
		case string(aquarium.Raised):
			add(aquarium.Raised, h.At)
		case string(aquarium.Returned), string(aquarium.OutOfService):
			add(aquarium.Returned, h.At)
		case string(aquarium.Renamed):
			_, to, _ := strings.Cut(h.Note, " > ")
			add(aquarium.Returned, h.At)
			cause = aquarium.Cause(to)
			add(aquarium.Raised, h.At)
		}
	}
}

// backtested runs the command over the same readings as CSV, shuffled: rows
// may be in any order.
func backtested(t *testing.T, cfg *config.Config, dir string, readings []arriving) events {
	t.Helper()
	rows := make([]string, 0, len(readings))
	meaning := meanings(cfg)
	for _, r := range readings {
		if s, ok := meaning(r.Reading); ok {
			rows = append(rows, fmt.Sprintf("%s,%s,%s,%s,%s\n", s.At.Time().Format(time.RFC3339Nano), s.Sensor.Site, s.Sensor.Tank, s.Sensor.Sensor, strconv.FormatFloat(s.Value, 'g', -1, 64)))
		}
	}
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	tape, visits := filepath.Join(dir, "readings.csv"), filepath.Join(dir, "visits.csv")
	begins := morningStart.Add(visitAt)
	for path, text := range map[string]string{
		tape: "time,site,tank,sensor,value\n" + strings.Join(rows, ""),
		visits: fmt.Sprintf("site,tank,from,to\n%s,%s,%s,%s\n", visitedTank.Site, visitedTank.Tank,
			begins.Time().Format(time.RFC3339), begins.Add(visitLasts).Time().Format(time.RFC3339)),
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	out, errs, status := lentic(t, "backtest", "-c", filepath.Join(dir, "lentic.yaml"), "--readings", tape, "--visits", visits, "--json")
	if status != 0 || errs != "" {
		t.Fatalf("backtest: exit status %d: %s", status, errs)
	}
	found := events{}
	dec := json.NewDecoder(bytes.NewBufferString(out))
	for dec.More() {
		var l daemon.Line
		if err := dec.Decode(&l); err != nil {
			t.Fatal(err)
		}
		at, err := time.Parse(time.RFC3339, l.Time)
		if err != nil {
			t.Fatal(err)
		}
		w := what{l.Site, l.Tank, l.Cause, l.Equipment, l.Event}
		found[w] = append(found[w], aquarium.At(at))
	}
	return found
}

// silences are the alarms whose readings stop and come again, which the command
// does not print: nobody is told of them.
func silences(cfg *config.Config, readings []arriving) events {
	found, meaning := events{}, meanings(cfg)
	var ss []aquarium.Sample
	for _, r := range readings {
		if s, ok := meaning(r.Reading); ok {
			ss = append(ss, s)
		}
	}
	slices.SortStableFunc(ss, func(a, b aquarium.Sample) int { return cmp.Compare(a.At, b.At) })
	visit := aquarium.Entry{ID: "visit", Kind: aquarium.Visit, Site: visitedTank.Site, Tank: visitedTank.Tank,
		At: morningStart.Add(visitAt), Until: morningStart.Add(visitAt + visitLasts)}
	for _, site := range cfg.Sites {
		its := slices.DeleteFunc(slices.Clone(ss), func(s aquarium.Sample) bool { return s.Sensor.Site != site.ID })
		alert.Replay(site, slices.Values(its), []aquarium.Entry{visit}, morningStart.Add(-time.Minute), morningStart.Add(morningLasts+2*aquarium.Step), func(x aquarium.Transition) {
			if x.Event == aquarium.ReadingsStopped || x.Event == aquarium.ReadingsBack {
				w := what{x.Identity.Site, x.Identity.Tank, x.Identity.Cause, x.Identity.Equipment, x.Event}
				found[w] = append(found[w], x.At)
			}
		})
	}
	return found
}

func compareEvents(t *testing.T, live, replayed events, tolerance time.Duration) {
	t.Helper()
	all := maps.Clone(replayed)
	maps.Copy(all, live)
	worst, n := time.Duration(0), 0
	for w := range all {
		got, want := slices.Sorted(slices.Values(live[w])), slices.Sorted(slices.Values(replayed[w]))
		if len(got) != len(want) {
			t.Errorf("%v: live %v, backtest %v", w, got, want)
			continue
		}
		for i := range got {
			n++
			d := got[i].Sub(want[i]).Abs()
			if worst = max(worst, d); d > tolerance {
				t.Errorf("%v: live %s, backtest %s: want at most %s apart", w, got[i], want[i], tolerance)
			}
		}
	}
	t.Logf("%d events agree; the farthest apart by %s", n, worst)
}
