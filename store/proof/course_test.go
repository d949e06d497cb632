package proof

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/storetest"
)

// course is a sequence of deeds that can be told again and again: the child
// that is going to fail does them to a store, and the test to a model in
// memory.
type course struct {
	name string
	mix  []kind        // what deeds are drawn from
	step time.Duration // by which lentic's clock goes on, each deed
	keep time.Duration // how long readings are kept; 0: for ever
	size int           // messages in a batch, at most
}

type kind int

const (
	appending kind = iota
	replacing
	importing
	tidying
	sealing
	writing  // documents alone
	undoing  // a batch whose hook fails
	swelling // documents that make the file grow
)

var courses = []course{
	{name: "append", mix: []kind{appending, appending, appending, replacing, writing, undoing}, step: 10 * time.Second, size: 3},
	{name: "tidy", mix: []kind{appending, appending, tidying, tidying, sealing}, step: 2 * time.Hour, size: 3},
	{name: "retention", mix: []kind{appending, tidying, tidying, tidying}, step: 4 * time.Hour, keep: 36 * time.Hour, size: 2},
	{name: "import", mix: []kind{appending, importing, importing, tidying}, step: time.Hour, size: 3},
	{name: "mixed", mix: []kind{appending, appending, appending, replacing, importing, tidying, tidying, writing, undoing}, step: 40 * time.Minute, size: 4},
	{name: "documents", mix: []kind{swelling, swelling, writing}, step: time.Minute, size: 1},
}

func courseNamed(name string) course {
	for _, c := range courses {
		if c.name == name {
			return c
		}
	}
	panic("no course is named " + name)
}

// probes are the sensors of three tanks and a gateway.
var probes = [][]aquarium.SensorKey{
	tankOf("quillmere-library", "atrium", "ph", "water", "level"),
	tankOf("hotel-sarnbrook", "lobby", "ph", "water"),
	tankOf("velloway-physiotherapy", "room-2", "co2"),
	tankOf("hotel-sarnbrook", aquarium.SiteWide, aquarium.GatewaySensor("gw1", aquarium.GatewayMains)),
}

func tankOf(site aquarium.SiteID, tank aquarium.TankID, sensors ...aquarium.SensorID) (ks []aquarium.SensorKey) {
	for _, s := range sensors {
		ks = append(ks, aquarium.SensorKey{Site: site, Tank: tank, Sensor: s})
	}
	return ks
}

// begins is where every course begins.
var begins = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))

// at is lentic's clock at deed n.
func (c course) at(n int) aquarium.Instant { return begins.Add(time.Duration(n) * c.step) }

// horizon is the time before which readings may have been forgotten at deed n.
func (c course) horizon(n int) aquarium.Instant {
	if c.keep == 0 {
		return begins.Add(-1e6 * time.Hour)
	}
	return c.at(n).Add(-c.keep)
}

// deed is one call on a store.
type deed struct {
	kind  kind
	n     int
	batch aquarium.Batch
}

// deed n of a course is the same whenever it is asked for.
func (c course) deed(n int) deed {
	rnd := rand.New(rand.NewPCG(uint64(n), 4))
	d := deed{kind: c.mix[rnd.IntN(len(c.mix))], n: n}
	d.batch.Arrived = c.at(n)
	switch d.kind {
	case importing:
		d.batch.Readings = c.history(rnd, n)
	case appending, replacing, undoing:
		d.batch.Readings = c.readings(rnd, n)
		c.odd(rnd, &d)
	}
	return d
}

// readings are of messages just now, and some that are late, come again, or
// contradict what came before. Values are eighths, so that sums are exact.
func (c course) readings(rnd *rand.Rand, n int) (rs []aquarium.Reading) {
	for i := range 1 + rnd.IntN(c.size) {
		at := c.at(n).Add(-time.Duration(i) * c.step / 8)
		if rnd.IntN(5) == 0 { // a day late at most, and of something that has been
			at = c.at(n - rnd.IntN(1+min(n, int(24*time.Hour/c.step))))
		}
		for _, k := range probes[rnd.IntN(len(probes))] {
			r := aquarium.Reading{Sensor: k, At: at, Value: float64(rnd.IntN(80)) / 8, Unit: "pH"}
			switch rnd.IntN(25) {
			case 0:
				r.Unit = "mV"
			case 1:
				r.Retimed = true
			}
			rs = append(rs, r)
		}
	}
	return rs
}

// history is two days of one tank, long before the course, each deed's its own.
func (c course) history(rnd *rand.Rand, n int) (rs []aquarium.Reading) {
	from := begins.Add(-time.Duration(n+1) * 36 * time.Hour)
	for _, k := range probes[rnd.IntN(len(probes))] {
		for i := range 40 {
			rs = append(rs, aquarium.Reading{Sensor: k, At: from.Add(time.Duration(i) * 71 * time.Minute), Value: float64(rnd.IntN(80)) / 8, Unit: "pH"})
		}
	}
	return rs
}

// odd adds what is no reading.
func (c course) odd(rnd *rand.Rand, d *deed) {
	if rnd.IntN(4) > 0 {
		return
	}
	now := d.batch.Arrived
	d.batch.Refused = []aquarium.Refusal{{Topic: "lentic/x", Reason: aquarium.ReasonSyntax, Detail: fmt.Sprint(d.n), Payload: []byte("six"), Arrived: now, Source: fmt.Sprint(d.n % 3)}}
	d.batch.Unclaimed = []aquarium.Unclaimed{{Topic: "lentic/quillmere-library/atrium/orp", Payload: fmt.Append(nil, d.n), Arrived: now}}
	d.batch.Aside = []aquarium.Aside{{Reading: aquarium.Reading{Sensor: probes[0][0], At: 86_400_000, Value: float64(d.n)}, Gateway: "gw1", Arrived: now}}
}

var errUndo = errors.New("undone on purpose")

// do does the deed.
func (d deed) do(s storetest.Store) error {
	mark := func(tx ledger.Tx, o aquarium.Outcome) error {
		return errors.Join(tx.Put("marks", "n", d.n), tx.Put("alarms", fmt.Sprint(d.n%7), len(o.Fresh)))
	}
	var err error
	switch d.kind {
	case appending:
		_, err = s.Append(d.batch, mark)
	case replacing:
		_, err = s.Replace(d.batch, mark)
	case importing:
		err = s.Bulk(func(add func(aquarium.Batch) error) error { return add(d.batch) })
	case tidying:
		if t, ok := s.(interface{ Tidy() (bool, error) }); ok {
			_, err = t.Tidy()
		}
	case sealing:
		if t, ok := s.(interface{ Seal() error }); ok {
			err = t.Seal()
		}
	case writing:
		err = s.Update(func(tx ledger.Tx) error {
			return errors.Join(mark(tx, aquarium.Outcome{}), tx.Delete("alarms", fmt.Sprint((d.n+3)%7)))
		})
	case swelling:
		err = s.Update(func(tx ledger.Tx) error {
			return errors.Join(mark(tx, aquarium.Outcome{}), tx.Put("journal", fmt.Sprint(d.n), strings.Repeat("a", 20_000+d.n*777%9000)))
		})
	case undoing:
		_, err = s.Append(d.batch, func(tx ledger.Tx, o aquarium.Outcome) error { return errors.Join(mark(tx, o), errUndo) })
		if errors.Is(err, errUndo) {
			err = nil
		}
	}
	return err
}

// whole reports whether the deed is all there or not at all, however it ends.
func (d deed) whole() bool { return d.kind != importing }
