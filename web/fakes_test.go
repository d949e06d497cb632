package web

import (
	"io/fs"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/screen"
	"lentic/store/ledger"
	"lentic/store/storetest"
	"lentic/web/account"
	"lentic/web/ui"
)

var noon = time.Date(2031, 3, 2, 12, 0, 0, 0, time.UTC)

// desk is an alarm desk of maps.
type desk struct {
	mu      sync.Mutex // guards everything below
	alarms  map[aquarium.AlarmID]aquarium.Alarm
	tokens  map[string]aquarium.AlarmID
	journal []aquarium.Entry
	out     []OutMessage
	changes int
	// spells are the atrium's, as far back as remembers; one that lasts until 26 h
	// after that goes on. 0: the site is about to be judged anew.
	spells    map[aquarium.SensorID][]screen.Spell
	remembers aquarium.Instant
}

func (d *desk) Alarms(standing bool, since aquarium.Instant) []aquarium.Alarm {
	d.mu.Lock()
	defer d.mu.Unlock()
	var out []aquarium.Alarm
	for _, a := range d.alarms {
		if a.State.Standing() || !standing && a.Returned >= since {
			out = append(out, a)
		}
	}
	return out
}

func (d *desk) Alarm(id aquarium.AlarmID) (aquarium.Alarm, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	a, ok := d.alarms[id]
	if !ok {
		return a, aquarium.ErrUnknownAlarm
	}
	return a, nil
}

func (d *desk) change(id aquarium.AlarmID, fn func(*aquarium.Alarm)) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	a, ok := d.alarms[id]
	if !ok {
		return aquarium.ErrUnknownAlarm
	}
	if a.State == aquarium.Normal {
		return aquarium.ErrNotPossible
	}
	d.changes++
	fn(&a)
	d.alarms[id] = a
	return nil
}

func (d *desk) Acknowledge(id aquarium.AlarmID, by aquarium.PersonID, note string) error {
	return d.change(id, func(a *aquarium.Alarm) {
		a.State, a.AcknowledgedAt, a.AcknowledgedBy, a.Note = aquarium.Acknowledged, aquarium.At(noon), by, note
	})
}

func (d *desk) Shelve(id aquarium.AlarmID, until aquarium.Instant, by aquarium.PersonID, reason string) error {
	return d.change(id, func(a *aquarium.Alarm) { a.State, a.ShelvedUntil = aquarium.Shelved, until })
}

func (d *desk) ByToken(token string) (aquarium.Alarm, aquarium.PersonID, error) {
	id, ok := d.tokens[token]
	if !ok {
		return aquarium.Alarm{}, "", aquarium.ErrUnknownAlarm
	}
	a, err := d.Alarm(id)
	return a, "keeper", err
}

func (d *desk) AcknowledgeByToken(token, note string) error {
	return d.Acknowledge(d.tokens[token], "keeper", note)
}

func (d *desk) enter(e aquarium.Entry) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.journal = append(d.journal, e)
	return nil
}

func (d *desk) StartVisit(k aquarium.TankKey, l time.Duration, by aquarium.PersonID, note string) error {
	return d.enter(aquarium.Entry{Kind: aquarium.Visit, Site: k.Site, Tank: k.Tank, At: aquarium.At(noon), Until: aquarium.At(noon.Add(l)), By: by, Note: note})
}

func (d *desk) EndVisit(aquarium.TankKey, aquarium.PersonID, string) error {
	return aquarium.ErrNotPossible
}

func (d *desk) HandTest(k aquarium.TankKey, kh float64, at aquarium.Instant, by aquarium.PersonID) error {
	return d.enter(aquarium.Entry{Kind: aquarium.HandTest, Site: k.Site, Tank: k.Tank, At: at, KH: kh, By: by})
}

func (d *desk) Serviced(k aquarium.TankKey, at aquarium.Instant, by aquarium.PersonID, note string) error {
	return d.enter(aquarium.Entry{Kind: aquarium.Serviced, Site: k.Site, Tank: k.Tank, At: at, Note: note})
}

func (d *desk) Journal(k aquarium.TankKey, from, to aquarium.Instant) []aquarium.Entry {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(d.journal), func(e aquarium.Entry) bool {
		return !e.Concerns(k) || e.At >= to || max(e.At, e.Until) < from
	})
}

func (d *desk) Outbox(int) []OutMessage { return d.out }
func (d *desk) Electrode(k aquarium.SensorKey) measure.Electrode {
	d.mu.Lock()
	defer d.mu.Unlock()
	return measure.ElectrodeOf(k, d.journal)
}

func (d *desk) Interval(aquarium.SensorKey) time.Duration { return time.Minute }

func (d *desk) Refused(k aquarium.SensorKey) (screen.Spell, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if xs := d.spells[k.Sensor]; k.Tank == "atrium" && len(xs) > 0 && xs[len(xs)-1].To >= d.remembers.Add(26*time.Hour) {
		return xs[len(xs)-1], true
	}
	return screen.Spell{}, false
}

func (d *desk) Spells(k aquarium.TankKey) (aquarium.Instant, map[aquarium.SensorID][]screen.Spell, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if k.Tank != "atrium" {
		return d.remembers, nil, d.remembers != 0
	}
	return d.remembers, d.spells, d.remembers != 0
}

func (d *desk) put(a aquarium.Alarm) { d.alarms[a.ID] = a }
func key(site, tank, sensor string) aquarium.SensorKey {
	return aquarium.SensorKey{Site: aquarium.SiteID(site), Tank: aquarium.TankID(tank), Sensor: aquarium.SensorID(sensor)}
}

func sites() []aquarium.Site {
	tank := func(id, name string) aquarium.Tank {
		return aquarium.Tank{ID: aquarium.TankID(id), Name: name, AlkalinityDKH: 4,
			Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}, {ID: "water", Quantity: aquarium.Temperature},
				{ID: "valve", Quantity: aquarium.Switch, OnChange: true, Refresh: 15 * time.Minute}},
			Equipment: aquarium.Equipment{CO2: &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve"}}}
	}
	return []aquarium.Site{
		{ID: "quillmere-library", Name: "Quillmere Library", Timezone: time.UTC, Access: "Valve cupboard left of the tank",
			Tanks: []aquarium.Tank{tank("atrium", "Atrium island")}},
		{ID: "hotel-sarnbrook", Name: "Hotel Sarnbrook", Timezone: time.UTC, Access: "Key at the desk", Tanks: []aquarium.Tank{tank("lobby", "Lobby river")}},
	}
}

// bench is a server with everything it needs, in memory.
type bench struct {
	*Server
	t     *testing.T
	store *storetest.Memory
	desk  *desk
	now   time.Time
	token map[string]string // bearer tokens by account
}

func newBench(t *testing.T, change func(*Options)) *bench {
	t.Helper()
	b := &bench{t: t, store: storetest.NewMemory(), now: noon, token: map[string]string{},
		desk: &desk{alarms: map[aquarium.AlarmID]aquarium.Alarm{}, tokens: map[string]aquarium.AlarmID{"lucky": "q1"}}}
	for i := range 60 { // an hour of readings a minute
		at := aquarium.At(noon.Add(time.Duration(i-60) * time.Minute))
		b.append(at, 6.6-float64(i)*0.005)
	}
	b.desk.put(aquarium.Alarm{ID: "q1", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: aquarium.CO2Overshoot, Equipment: "co2"},
		Priority: aquarium.High, State: aquarium.Unacknowledged, Active: true, Since: aquarium.At(noon.Add(-10 * time.Minute)),
		Raised: aquarium.At(noon.Add(-9 * time.Minute)), Evidence: aquarium.Evidence{Sensor: "ph", Value: 5.98, Unit: "pH"}})
	b.desk.put(aquarium.Alarm{ID: "h1", Identity: aquarium.Identity{Site: "hotel-sarnbrook", Tank: "lobby", Cause: aquarium.FilterStalled, Equipment: "a"},
		Priority: aquarium.Medium, State: aquarium.Unacknowledged, Active: true, Since: aquarium.At(noon), Raised: aquarium.At(noon)})
	b.desk.put(aquarium.Alarm{ID: "own", Identity: aquarium.Identity{Cause: aquarium.DiskLow}, Priority: aquarium.High, State: aquarium.Unacknowledged, Active: true, Since: aquarium.At(noon), Raised: aquarium.At(noon)})
	b.desk.put(aquarium.Alarm{ID: "past", Identity: aquarium.Identity{Site: "quillmere-library", Tank: "atrium", Cause: aquarium.PHLow}, Priority: aquarium.High, State: aquarium.Normal})
	reg := prometheus.NewRegistry()
	reg.MustRegister(prometheus.NewGauge(prometheus.GaugeOpts{Name: "lentic_outbox_waiting", Help: "Messages waiting."}))
	o := Options{Address: "127.0.0.1:0", Sites: sites(), People: []aquarium.Person{{ID: "keeper", Name: "Keeper"}}, Readings: b.store, Desk: b.desk, Intake: b.store,
		Ledger: b.store, Metrics: reg, Now: func() time.Time { return b.now }, UI: testUI(t)}
	if change != nil {
		change(&o)
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	b.Server = s
	return b
}

// append stores a minute's readings of both tanks.
func (b *bench) append(at aquarium.Instant, ph float64) {
	b.t.Helper()
	var rs []aquarium.Reading
	for _, tank := range []aquarium.TankKey{{Site: "quillmere-library", Tank: "atrium"}, {Site: "hotel-sarnbrook", Tank: "lobby"}} {
		rs = append(rs, aquarium.Reading{Sensor: key(string(tank.Site), string(tank.Tank), "ph"), At: at, Value: ph, Unit: "pH"},
			aquarium.Reading{Sensor: key(string(tank.Site), string(tank.Tank), "water"), At: at, Value: 24.5, Unit: "Cel"})
	}
	if _, err := b.store.Append(aquarium.Batch{Readings: rs, Arrived: at}, nil); err != nil {
		b.t.Fatal(err)
	}
}

// testUI is the real templates with an empty bundle.
func testUI(t *testing.T) fs.FS {
	t.Helper()
	m := fstest.MapFS{"dist/manifest.json": {Data: []byte(`{"tank.js":"tank-1.js"}`)}, "dist/tank-1.js": {Data: []byte("1")}}
	names, err := fs.Glob(ui.Templates(), "*.html")
	if err != nil || len(names) == 0 {
		t.Fatalf("no templates: %v", err)
	}
	for _, n := range names {
		data, err := fs.ReadFile(ui.Templates(), n)
		if err != nil {
			t.Fatal(err)
		}
		m["templates/"+n] = &fstest.MapFile{Data: data}
	}
	return m
}

// accounts adds a keeper, and a viewer of the library only, with a token each.
func (b *bench) accounts() {
	b.t.Helper()
	for name, v := range map[string][]aquarium.SiteID{"keeper": nil, "client": {"quillmere-library"}} {
		role := account.Keeper
		if v != nil {
			role = account.Viewer
		}
		u, err := account.New(aquarium.At(noon), name, "moss on old stone", role, v)
		if err != nil {
			b.t.Fatal(err)
		}
		err = b.store.Update(func(tx ledger.Tx) error {
			if err := account.Add(tx, u); err != nil {
				return err
			}
			b.token[name], err = account.Issue(tx, aquarium.At(noon), name, "test")
			return err
		})
		if err != nil {
			b.t.Fatal(err)
		}
	}
}

// ask sends a request as from this machine; header is pairs.
func (b *bench) ask(method, target, body string, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, target, strings.NewReader(body))
	r.Host, r.RemoteAddr = "127.0.0.1:8420", "127.0.0.1:50000"
	for i := 0; i+1 < len(header); i += 2 {
		if header[i] == "Host" {
			r.Host = header[i+1]
			continue
		}
		r.Header.Set(header[i], header[i+1])
	}
	if method == http.MethodPost && !strings.HasPrefix(target, "/api/") {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	w := httptest.NewRecorder()
	b.ServeHTTP(w, r)
	return w
}
