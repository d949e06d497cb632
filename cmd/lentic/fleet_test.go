package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"lentic/collector/aquarium"
	"lentic/store"
)

// fleet is a configuration of many tanks at several sites, each tank with the
// sensors of fleetSensors.
type fleet struct {
	sites, tanksEach int
	web, mqtt        int
	provider         string
	dir              string
}

type fleetSensor struct {
	id, quantity string
	value        float64
}

// fleetSensors are twelve, of the quantities that have causes to judge, with a
// value at which nothing is wrong.
var fleetSensors = []fleetSensor{
	{"flow", "flow", 1000}, {"ph", "ph", 6.6}, {"water", "temperature", 24.5}, {"level", "level", 0},
	{"valve", "switch", 1}, {"topoff", "switch", 0}, {"store", "volume", 150}, {"heat", "switch", 0},
	{"mains", "switch", 1}, {"floor", "switch", 0}, {"air", "temperature", 21}, {"redox", "number", 300},
}

func (f fleet) tanks() int { return f.sites * f.tanksEach }

func (f fleet) config() string {
	var b strings.Builder
	fmt.Fprintf(&b, `data: %q
listen: { web: "127.0.0.1:%d", mqtt: "127.0.0.1:%d" }
people: [ { id: keeper, name: Keeper, phone: "+447700900101" } ]
channels:
  - { id: texts, kind: http, url: %q, body: '{"to":{{json .To}},"text":{{json .Text}}}', accepted: { status: 200 } }
call_out:
  high: [ { tell: keeper, by: texts } ]
  medium: [ { tell: keeper, by: texts } ]
  low: [ { tell: keeper, by: texts, digest: "07:30" } ]
sites:
`, filepath.Join(f.dir, "data"), f.web, f.mqtt, f.provider)
	for s := range f.sites {
		fmt.Fprintf(&b, "  - id: site-%d\n    name: Site %d\n    timezone: %s\n    tanks:\n", s, s, nightly(time.Now()))
		for t := range f.tanksEach {
			fmt.Fprintf(&b, `      - id: tank-%d
        name: Tank %d
        size: { length_cm: 150, width_cm: 60, fill_cm: 52, displaced_l: 40 }
        started: 2025-02-10
        substrate: active
        alkalinity_dkh: 4
        limits: { ph: [6.1, 8.4], temperature: [22, 28] }
        sensors:
`, t, s*f.tanksEach+t)
			for _, x := range fleetSensors {
				fmt.Fprintf(&b, "          %s: { quantity: %s }\n", x.id, x.quantity)
			}
			b.WriteString(`        equipment:
          co2:       { ph: ph, target: 6.6, band: 0.05, valve: valve }
          top_off:   { level: level, band_mm: 4, pump: topoff, rate_l_h: 90, from: store }
          filters:   [ { id: a, flow: flow, rated_l_h: 1000 } ]
          reservoir: { volume: store, capacity_l: 180, production_l_h: 60 }
          heater:    { temperature: water, switch: heat, target: 24.5 }
          power:     { mains: mains }
          floor:     { wet: floor }
`)
		}
	}
	return b.String()
}

func (f fleet) topic(tank int, sensor string) string {
	return fmt.Sprintf("lentic/site-%d/tank-%d/%s", tank/f.tanksEach, tank%f.tanksEach, sensor)
}

// timed is one SenML reading (RFC 8428) with its own time.
func timed(at time.Time, v float64) string {
	return fmt.Sprintf(`[{"bt":%.3f,"v":%g}]`, float64(at.UnixMilli())/1000, v)
}

// jitter keeps a measured value from standing perfectly still; switches do.
func jitter(quantity string, v float64) float64 {
	switch quantity {
	case "switch":
		return v
	case "ph":
		return v + 0.01*rand.Float64()
	}
	return v + 0.1*rand.Float64()
}

// background publishes sensors of all tanks in turn at a steady rate and
// reports how many readings it sent.
func background(ctx context.Context, c mqtt.Client, f fleet, sensors []fleetSensor, began time.Time, rate float64) int {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	sent := 0
	for {
		select {
		case <-ctx.Done():
			return sent
		case <-tick.C:
		}
		for want := int(time.Since(began).Seconds() * rate); sent < want; sent++ {
			tank, s := sent%f.tanks(), sensors[sent/f.tanks()%len(sensors)]
			c.Publish(f.topic(tank, s.id), 1, false, timed(time.Now(), jitter(s.quantity, s.value)))
		}
	}
}

// fill stores a reading of every sensor each time every has passed, up to now.
func (f fleet) fill(t testing.TB, past, every time.Duration) (n int, took time.Duration) {
	t.Helper()
	began := time.Now()
	if err := os.MkdirAll(filepath.Join(f.dir, "data"), 0o700); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(filepath.Join(f.dir, "data", "lentic.db"), store.Options{Writer: "figures"})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	to := aquarium.At(began).Floor(every)
	err = db.Bulk(func(add func(aquarium.Batch) error) error {
		var rs []aquarium.Reading
		for tank := range f.tanks() {
			for _, s := range fleetSensors {
				k := aquarium.SensorKey{
					Site: aquarium.SiteID(fmt.Sprintf("site-%d", tank/f.tanksEach)),
					Tank: aquarium.TankID(fmt.Sprintf("tank-%d", tank%f.tanksEach)), Sensor: aquarium.SensorID(s.id),
				}
				rs = rs[:0]
				for at := to.Add(-past); at < to; at = at.Add(every) {
					rs = append(rs, aquarium.Reading{Sensor: k, At: at, Value: round(jitter(s.quantity, s.value))})
				}
				if err := add(aquarium.Batch{Readings: rs, Arrived: to}); err != nil {
					return err
				}
				n += len(rs)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return n, time.Since(began)
}

// round is to three decimals, as devices publish.
func round(v float64) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'f', 3, 64), 64)
	return r
}

// nightly is a time zone where it is the middle of the night now, when nobody
// feeds: by day a filter's first pause is given some minutes before it is told.
func nightly(now time.Time) string {
	west := (now.UTC().Hour() - 2 + 24) % 24 // hours to two o'clock
	if west > 12 {
		return fmt.Sprintf("Etc/GMT-%d", 24-west)
	}
	return fmt.Sprintf("Etc/GMT+%d", west) // POSIX counts to the west
}
