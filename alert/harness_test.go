package alert

import (
	"context"
	"errors"
	"lentic/alert/detect"
	"maps"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lentic/alert/rota"
	"lentic/collector/aquarium"
	"lentic/collector/screen"
	"lentic/store/ledger"
	"lentic/store/storetest"
)

// The tests' site: one tank with two filters and a pH. The watch of the tests
// raises without delay, so that what is tested is the desk: filter-stalled
// below 100 l/h, ph-low below 6.
const (
	library = aquarium.SiteID("quillmere-library")
	atrium  = aquarium.TankID("atrium")
)

var tankKey = aquarium.TankKey{Site: library, Tank: atrium}

func sensor(id aquarium.SensorID) aquarium.SensorKey {
	return aquarium.SensorKey{Site: library, Tank: atrium, Sensor: id}
}

func site() aquarium.Site {
	return aquarium.Site{
		ID: library, Name: "Quillmere Library", Timezone: time.UTC,
		Contacts: []aquarium.Contact{{ID: "desk", Phone: "+447700900103", By: "texts"}},
		Tanks: []aquarium.Tank{{
			ID: atrium, Name: "Atrium island",
			Sensors: []aquarium.Sensor{
				{ID: "flow-a", Quantity: aquarium.Flow, Unit: "l/h"}, {ID: "flow-b", Quantity: aquarium.Flow, Unit: "l/h"},
				{ID: "ph", Quantity: aquarium.PH, Unit: "pH"},
			},
			Equipment: aquarium.Equipment{Filters: []aquarium.Filter{{ID: "a", Flow: "flow-a"}, {ID: "b", Flow: "flow-b"}}},
		}},
	}
}

func setup() Setup {
	morning := aquarium.Clock(7*60 + 30)
	return Setup{
		Sites: []aquarium.Site{site()},
		People: []aquarium.Person{
			{ID: "keeper", Name: "Keeper", Phone: "+447700900101", Email: "keeper@example.net", Timezone: time.UTC, Quiet: &aquarium.Span{From: 22 * 60, To: 7 * 60}},
			{ID: "deputy", Name: "Deputy", Phone: "+447700900102", Timezone: time.UTC},
		},
		CallOut: aquarium.CallOut{
			aquarium.High: {{Tell: "keeper", By: "texts"}, {After: 10 * time.Minute, Tell: "deputy", By: "texts"},
				{After: 20 * time.Minute, Tell: "keeper", By: "texts", Repeat: 15 * time.Minute}},
			aquarium.Medium: {{Tell: "keeper", By: "texts"}},
			aquarium.Low:    {{Tell: "keeper", By: "mail", Digest: &morning}},
		},
		PublicURL: "https://watch.example.net",
	}
}

// simple is a watch of thresholds.
type simple struct {
	site   aquarium.SiteID
	values map[aquarium.SensorID]aquarium.Sample
	on     map[aquarium.Identity]bool
	out    map[aquarium.Identity]bool
	notes  map[string]aquarium.Entry
}

func newSimple(s aquarium.Site) watch {
	return &simple{s.ID, map[aquarium.SensorID]aquarium.Sample{}, map[aquarium.Identity]bool{}, map[aquarium.Identity]bool{}, map[string]aquarium.Entry{}}
}

var rules = []struct {
	sensor    aquarium.SensorID
	cause     aquarium.Cause
	equipment aquarium.EquipmentKey
	priority  aquarium.Priority
	below     float64
}{
	{"flow-a", aquarium.FilterStalled, "a", aquarium.High, 100},
	{"flow-b", aquarium.FilterStalled, "b", aquarium.Medium, 100},
	{"ph", aquarium.PHProbeDrift, "ph", aquarium.Low, 6},
	{"ph", aquarium.PHLow, "", aquarium.High, 3},
}

func (w *simple) Observe(s aquarium.Sample) {
	if had, ok := w.values[s.Sensor.Sensor]; !ok || s.At >= had.At {
		w.values[s.Sensor.Sensor] = s
	}
}
func (w *simple) Note(e aquarium.Entry)                     { w.notes[e.ID] = e }
func (w *simple) Recall(*detect.Learned)                    {}
func (w *simple) Learned() []*detect.Learned                { return nil }
func (w *simple) Straight(bool)                             {}
func (w *simple) Next(t aquarium.Instant) aquarium.Instant  { return t.Add(aquarium.Step) }
func (w *simple) Interval(aquarium.SensorKey) time.Duration { return time.Minute }
func (w *simple) Refused(aquarium.SensorKey) (screen.Spell, bool) {
	return screen.Spell{}, false
}
func (w *simple) Spells(aquarium.TankKey) (aquarium.Instant, map[aquarium.SensorID][]screen.Spell, bool) {
	return 0, nil, false
}
func (w *simple) Stand(as []aquarium.Alarm) {
	clear(w.on)
	clear(w.out)
	for _, a := range as {
		w.on[a.Identity] = true
		w.out[a.Identity] = a.State == aquarium.StateOutOfService
	}
}

func (w *simple) Tick(at aquarium.Instant) []aquarium.Transition {
	var ts []aquarium.Transition
	for _, r := range rules {
		s, ok := w.values[r.sensor]
		if !ok {
			continue
		}
		visited := false
		for _, e := range w.notes {
			visited = visited || e.Kind == aquarium.Visit && e.Covers(at)
		}
		id := aquarium.Identity{Site: w.site, Tank: atrium, Cause: r.cause, Equipment: r.equipment}
		t := aquarium.Transition{At: at, Identity: id, Priority: r.priority, Since: s.At,
			Evidence: aquarium.Evidence{Sensor: r.sensor, Value: s.Value, Unit: "l/h", Limit: &r.below}}
		on := s.Value < r.below
		switch {
		case on && visited && !w.out[id]:
			t.Event = aquarium.OutOfService
		case on && !visited && (!w.on[id] || w.out[id]):
			t.Event = aquarium.Raised
		case !on && w.on[id]:
			t.Event = aquarium.Returned
		default:
			continue
		}
		w.on[id], w.out[id] = on, on && visited
		ts = append(ts, t)
	}
	return ts
}

// history keeps readings in memory.
type history struct {
	mv bool       // the pH comes in mV
	mu sync.Mutex // guards rs
	rs map[aquarium.SensorKey]map[aquarium.Instant]float64
}

func newHistory() *history {
	return &history{rs: map[aquarium.SensorKey]map[aquarium.Instant]float64{}}
}

func (h *history) put(r aquarium.Reading) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.rs[r.Sensor] == nil {
		h.rs[r.Sensor] = map[aquarium.Instant]float64{}
	}
	h.rs[r.Sensor][r.At] = r.Value
}

func (h *history) Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error {
	h.mu.Lock()
	rs := maps.Clone(h.rs[k])
	h.mu.Unlock()
	for _, at := range slices.Sorted(maps.Keys(rs)) {
		unit := aquarium.Unit("l/h")
		if k.Sensor == "ph" {
			unit = "pH"
			if h.mv {
				unit = "mV"
			}
		}
		if at >= from && at < to && !fn(aquarium.Reading{Sensor: k, At: at, Value: rs[at], Unit: unit}) {
			return nil
		}
	}
	return nil
}

// has reports whether a value is stored.
func (h *history) has(k aquarium.SensorKey, v float64) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Contains(slices.Collect(maps.Values(h.rs[k])), v)
}

func (h *history) Sensors() []aquarium.SensorKey {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Collect(maps.Keys(h.rs))
}

// failing is a ledger whose n-th Update and all later ones fail, as those of a
// process that has ended; zero never fails.
type failing struct {
	ledger.Ledger
	mu   sync.Mutex // guards n, failAt
	n    int
	fail int
}

var errGone = errors.New("the ledger is gone")

func (l *failing) Update(fn func(ledger.Tx) error) error {
	l.mu.Lock()
	l.n++
	gone := l.fail > 0 && l.n >= l.fail
	l.mu.Unlock()
	if gone {
		return errGone
	}
	return l.Ledger.Update(fn)
}

// post is a channel that keeps what it was given.
type post struct {
	mail  bool
	delay time.Duration
	clock func() aquarium.Instant

	mu   sync.Mutex // guards the rest
	down bool
	got  []arrived
	busy map[aquarium.PersonID]int // sends under way
	most int                       // at once to one person
}

type arrived struct {
	rota.Outgoing
	at aquarium.Instant
}

func (p *post) Address(who aquarium.Person) string {
	if p.mail {
		return who.Email
	}
	return who.Phone
}

func (p *post) Send(ctx context.Context, m rota.Outgoing) (string, error) {
	p.count(m.To.ID, 1)
	defer p.count(m.To.ID, -1)
	select {
	case <-time.After(p.delay):
	case <-ctx.Done():
		return "", ctx.Err()
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.down {
		return "", errors.New("provider refused: no credit")
	}
	p.got = append(p.got, arrived{m, p.clock()})
	return "queued", nil
}

func (p *post) count(who aquarium.PersonID, n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.busy == nil {
		p.busy = map[aquarium.PersonID]int{}
	}
	p.busy[who] += n
	p.most = max(p.most, p.busy[who])
}

func (p *post) set(down bool) { p.mu.Lock(); p.down = down; p.mu.Unlock() }

// texts lists who got what, shortly.
func (p *post) all() []arrived {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.got)
}

func (p *post) to(who aquarium.PersonID) []string {
	var ts []string
	for _, g := range p.all() {
		if g.To.ID == who {
			ts = append(ts, g.Text)
		}
	}
	return ts
}

// world is a desk with all that is around it, inside a synctest bubble.
type world struct {
	t           *testing.T
	start       time.Time
	skew        atomic.Int64 // ns the clock was put forward
	watch       func(aquarium.Site) watch
	setup       Setup
	history     *history
	ledger      *failing
	texts, mail *post
	desk        *Desk
	refused     []aquarium.Reading // not acknowledged, so sent again
	stop        func() error
}

// inWorld runs fn in a bubble whose clock begins at noon of a summer's day.
func inWorld(t *testing.T, fn func(w *world)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		w := &world{t: t, start: time.Now(), watch: newSimple, history: newHistory(), ledger: &failing{Ledger: storetest.NewLedger()}}
		at := func() aquarium.Instant { return aquarium.At(w.now()) }
		w.texts, w.mail = &post{clock: at}, &post{clock: at, mail: true}
		w.setup = setup()
		w.setup.Senders = map[aquarium.ChannelID]Sender{"texts": w.texts, "mail": w.mail}
		defer func() {
			if w.stop != nil {
				w.down()
			}
		}()
		fn(w)
	})
}

func (w *world) now() time.Time {
	return time.Date(2031, 7, 10, 12, 0, 0, 0, time.UTC).Add(time.Since(w.start) + time.Duration(w.skew.Load()))
}

func (w *world) at() aquarium.Instant { return aquarium.At(w.now()) }

// up starts a desk over what is kept.
func (w *world) up() { w.upOver(w.history) }

// upOver is up with another history.
func (w *world) upOver(h History) {
	w.t.Helper()
	d, err := New(Options{Setup: w.setup, History: h, Ledger: w.ledger, Now: w.now, watch: w.watch})
	if err != nil {
		w.t.Fatal(err)
	}
	w.desk = d
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	w.stop = func() error { cancel(); return <-done }
	synctest.Wait()
	again := w.refused
	w.refused = nil
	for _, r := range again {
		w.read(r.Sensor.Sensor, r.At, r.Value)
	}
}

// down stops the desk as a service manager does.
func (w *world) down() {
	w.t.Helper()
	err := w.stop()
	w.stop = nil
	if err != nil && !errors.Is(err, errGone) {
		w.t.Errorf("stop: %v", err)
	}
}

// pass lets time go by.
func (w *world) pass(d time.Duration) { time.Sleep(d); synctest.Wait() }

// read stores a reading and hands it over, as intake does.
func (w *world) read(id aquarium.SensorID, at aquarium.Instant, v float64) {
	w.t.Helper()
	r := aquarium.Reading{Sensor: sensor(id), At: at, Value: v}
	err := w.ledger.Update(func(tx ledger.Tx) error {
		if err := w.desk.Note(tx, aquarium.Outcome{Fresh: []aquarium.Reading{r}}, w.at()); err != nil {
			return err
		}
		w.history.put(r)
		return nil
	})
	if err == nil {
		w.desk.Take([]aquarium.Sample{{Sensor: r.Sensor, At: at, Value: v}})
	} else if errors.Is(err, errGone) {
		w.refused = append(w.refused, r)
	} else {
		w.t.Fatal(err)
	}
}

// flow reads filter a and gives the desk time to judge and tell.
func (w *world) flow(v float64) { w.read("flow-a", w.at(), v); w.pass(12 * time.Second) }

// one is the only alarm that stands.
func (w *world) one() aquarium.Alarm {
	w.t.Helper()
	as, err := w.desk.Alarms(Filter{Standing: true})
	if err != nil || len(as) != 1 {
		w.t.Fatalf("standing: got %d alarms, %v; want 1", len(as), err)
	}
	return as[0]
}

func (w *world) wantTexts(who aquarium.PersonID, n int) []string {
	w.t.Helper()
	got := w.texts.to(who)
	if len(got) != n {
		w.t.Errorf("%s: got %d texts, want %d:\n%s", who, len(got), n, strings.Join(got, "\n---\n"))
	}
	return got
}
