package wire

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

var arrived = aquarium.At(time.Date(2031, 3, 2, 2, 14, 30, 0, time.UTC))

// seconds is the time of arrival as SenML writes it.
var seconds = int64(arrived) / 1000

func registry() *Registry {
	return NewRegistry("lentic", []aquarium.Site{
		{ID: "quillmere-library", Tanks: []aquarium.Tank{{ID: "atrium", Sensors: []aquarium.Sensor{
			{ID: "ph", Quantity: aquarium.PH},
			{ID: "water", Quantity: aquarium.Temperature, Unit: "[degF]"},
			{ID: "valve", Quantity: aquarium.Switch},
			{ID: "flow-a", Quantity: aquarium.Flow, Counter: true, PerUnit: 450},
			{ID: "store", Quantity: aquarium.Volume, LitresPerMM: 0.25},
			{ID: "light", Quantity: aquarium.Number, Unit: "lx"},
			{ID: "room", Quantity: aquarium.Temperature, Topic: "plant/room", Pointer: "/data/0/temp~1C", TimePointer: "/at", TimeUnit: aquarium.RFC3339},
			{ID: "wet", Quantity: aquarium.Switch, Topic: "plant/room", Pointer: "/wet"},
			{ID: "level", Quantity: aquarium.Level, Topic: "plant/level", Pointer: "/mm", TimePointer: "/ts", TimeUnit: aquarium.Milliseconds},
		}}}},
		{ID: "hotel-sarnbrook"},
	})
}

const home = "lentic/quillmere-library/atrium"

func key(sensor aquarium.SensorID) aquarium.SensorKey {
	return aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: sensor}
}

func own(item string) aquarium.SensorKey {
	return aquarium.SensorKey{Site: "quillmere-library", Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor("gw1", item)}
}

func TestReadings(t *testing.T) {
	at := func(d time.Duration) aquarium.Instant { return arrived.Add(d) }
	for _, tt := range []struct {
		name, topic, payload string
		retained             bool
		want                 []aquarium.Reading
	}{
		{"a bare number", home + "/ph", "6.58", false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.58, Unit: "pH"}}},
		{"with space around", home + "/ph", " 6.58\r\n", false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.58, Unit: "pH"}}},
		{"in the sensor's unit", home + "/water", "76", false, []aquarium.Reading{{Sensor: key("water"), At: arrived, Value: 76, Unit: "[degF]"}}},
		{"u wins", home + "/water", `[{"u":"K","v":297.65}]`, false, []aquarium.Reading{{Sensor: key("water"), At: arrived, Value: 297.65, Unit: "K"}}},
		{"names are not compared on a sensor's topic", home + "/ph", `[{"n":"whatever it is!","v":6.5}]`, false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"to the millisecond", home + "/ph", fmt.Sprintf(`[{"v":6.5,"t":%d.1234}]`, seconds-60), false, []aquarium.Reading{{Sensor: key("ph"), At: at(-time.Minute + 123*time.Millisecond), Value: 6.5, Unit: "pH"}}},
		{"relative to arrival", home + "/ph", `[{"v":6.5,"t":-5}]`, false, []aquarium.Reading{{Sensor: key("ph"), At: at(-5 * time.Second), Value: 6.5, Unit: "pH"}}},
		{"nine minutes ahead", home + "/ph", fmt.Sprintf(`[{"v":6.5,"t":%d}]`, seconds+540), false, []aquarium.Reading{{Sensor: key("ph"), At: at(9 * time.Minute), Value: 6.5, Unit: "pH"}}},
		{"absurd and finite", home + "/ph", "1e300", false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 1e300, Unit: "pH"}}},
		{"millivolts", home + "/ph", `[{"u":"mV","v":12}]`, false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 12, Unit: "mV"}}},
		{"a pack by names", home, fmt.Sprintf(`[{"bn":"urn:dev:7:","bt":%d,"n":"ph","v":6.5},{"n":"x_valve","vb":true},{"n":"a/water","u":"Cel","v":24.5,"t":-1}]`, seconds), false,
			[]aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}, {Sensor: key("valve"), At: arrived, Value: 1}, {Sensor: key("water"), At: at(-time.Second), Value: 24.5, Unit: "Cel"}}},
		{"base fields in a record of their own", home, fmt.Sprintf(`[{"bn":"x:","bt":%d},{"n":"ph","v":6.5}]`, seconds), false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"base value", home, `[{"bn":"ph","bv":6,"v":0.5}]`, false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"CBOR", home + "/ph", unhex("81 a1 02 f9 4680"), false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"escapes, spaces and what is not understood", home, ` [ { "q" : [ { "v]" : "\"" } ] , "\u006e" : "p\u0068" , "v" : 6.5 } ]`, false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"the last of two with one name", home, `[{"n":"ph","v":"x","v":6.5}]`, false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"CBOR of indefinite length, a name in pieces", home, unhex("9f bf 00 7f 61 70 61 68 ff 02 f9 4680 ff ff"), false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"CBOR with a key of bytes and a tagged array", home, unhex("81 a4 41 05 c1 82 01 a1 02 03 00 62 7068 02 fa 40d00000 07 01"), false, []aquarium.Reading{{Sensor: key("ph"), At: arrived, Value: 6.5, Unit: "pH"}}},
		{"a switch as ratio", home + "/valve", `[{"u":"/","v":0}]`, false, []aquarium.Reading{{Sensor: key("valve"), At: arrived, Value: 0, Unit: "/"}}},
		{"pulses", home + "/flow-a", "1234", false, []aquarium.Reading{{Sensor: key("flow-a"), At: arrived, Value: 1234, Unit: "count"}}},
		{"a running total", home + "/flow-a", `[{"u":"l","v":12}]`, false, []aquarium.Reading{{Sensor: key("flow-a"), At: arrived, Value: 12, Unit: "l"}}},
		{"a level used as a volume", home + "/store", "240", false, []aquarium.Reading{{Sensor: key("store"), At: arrived, Value: 240, Unit: "mm"}}},
		{"a number of any unit", home + "/light", `[{"u":"mol","v":3}]`, false, []aquarium.Reading{{Sensor: key("light"), At: arrived, Value: 3, Unit: "mol"}}},
		{"pointers, two sensors", "plant/room", `{"at":"2031-03-02T02:14:00Z","wet":true,"data":[{"temp/C":"21.5"}]}`, false,
			[]aquarium.Reading{{Sensor: key("room"), At: at(-30 * time.Second), Value: 21.5, Unit: "Cel"}, {Sensor: key("wet"), At: arrived, Value: 1}}},
		{"stored, with a time of its own", "plant/level", fmt.Sprintf(`{"mm":-3,"ts":%d}`, arrived-60000), true, []aquarium.Reading{{Sensor: key("level"), At: at(-time.Minute), Value: -3, Unit: "mm"}}},
		{"stored, absolute", home + "/ph", fmt.Sprintf(`[{"v":6.5,"t":%d}]`, seconds-3600), true, []aquarium.Reading{{Sensor: key("ph"), At: at(-time.Hour), Value: 6.5, Unit: "pH"}}},
		{"present", "lentic/quillmere-library/-/gw1", "present", false, []aquarium.Reading{{Sensor: own("present"), At: arrived, Value: 1}}},
		{"absent, stored", "lentic/quillmere-library/-/gw1", "absent", true, []aquarium.Reading{{Sensor: own("present"), At: arrived, Value: 0}}},
		{"health", "lentic/quillmere-library/-/gw1/health", `[{"n":"mains","vb":false},{"n":"battery","u":"%EL","v":80},{"n":"buffered","v":12},{"n":"gw:signal","v":-71}]`, false,
			[]aquarium.Reading{{Sensor: own("mains"), At: arrived}, {Sensor: own("battery"), At: arrived, Value: 80, Unit: "%EL"}, {Sensor: own("buffered"), At: arrived, Value: 12, Unit: "count"}, {Sensor: own("signal"), At: arrived, Value: -71, Unit: "dBm"}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := registry().Decode(Message{Topic: tt.topic, Payload: []byte(tt.payload), Retained: tt.retained, Arrived: arrived})
			if d.Len() != len(tt.want) || len(d.Readings) != len(tt.want) {
				t.Fatalf("got %+v, want %d readings", d, len(tt.want))
			}
			for i, want := range tt.want {
				if d.Readings[i] != want {
					t.Errorf("reading %d: %+v, want %+v", i, d.Readings[i], want)
				}
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	big := func(n int) string { return "[" + strings.Repeat(`{"v":1},`, n-1) + `{"v":1}]` }
	for _, tt := range []struct {
		name, topic, payload string
		retained             bool
		reason               aquarium.Reason
		detail               string // a part of it
	}{
		{"empty", home + "/ph", "", false, aquarium.ReasonSyntax, "the payload is empty"},
		{"text", home + "/ph", "warm", false, aquarium.ReasonSyntax, `"warm" is neither a number nor a SenML pack`},
		{"a comma", home + "/ph", "6,58", false, aquarium.ReasonSyntax, "write 6.58"},
		{"a word for a switch", home + "/valve", "on", false, aquarium.ReasonSyntax, "send 1 or 0"},
		{"two points", home + "/ph", "6.5.8", false, aquarium.ReasonSyntax, "neither a number"},
		{"hexadecimal", home + "/ph", "0x10", false, aquarium.ReasonSyntax, "neither a number"},
		{"NaN", home + "/ph", "NaN", false, aquarium.ReasonValue, "is no value"},
		{"infinity", home + "/ph", "-Inf", false, aquarium.ReasonValue, "is no value"},
		{"too large for a number", home + "/ph", "1e999", false, aquarium.ReasonValue, "too large"},
		{"NaN in JSON", home + "/ph", `[{"v":NaN}]`, false, aquarium.ReasonValue, "NaN and infinities are no values"},
		{"overflow in JSON", home + "/ph", `[{"v":1e999}]`, false, aquarium.ReasonValue, "too large"},
		{"NaN in CBOR", home + "/ph", unhex("81 a1 02 f9 7e00"), false, aquarium.ReasonValue, "is no value"},
		{"infinity in CBOR", home + "/ph", unhex("81 a1 02 f9 7c00"), false, aquarium.ReasonValue, "is no value"},
		{"sum of base and value overflows", home + "/ph", `[{"bv":1.7e308,"v":1.7e308}]`, false, aquarium.ReasonValue, "is no value"},
		{"no value", home, `[{"n":"ph","u":"pH"}]`, false, aquarium.ReasonValue, "has no value"},
		{"JSON cut short", home, `[{"n":"ph","v":6.5`, false, aquarium.ReasonSyntax, "not JSON from byte"},
		{"CBOR cut short", home, unhex("81 a1 02"), false, aquarium.ReasonSyntax, "not a SenML pack in CBOR"},
		{"an object on a sensor's topic", home + "/ph", `{"ph":6.5}`, false, aquarium.ReasonSyntax, "give the sensor a pointer"},
		{"an object on a tank's topic", home, `{"ph":6.5}`, false, aquarium.ReasonSyntax, "which is an array"},
		{"a number on a tank's topic", home, "6.5", false, aquarium.ReasonSyntax, "publish a number on the sensor's own topic"},
		{"an empty pack", home, "[]", false, aquarium.ReasonPack, "holds no record"},
		{"a version from the future", home, `[{"bver":11,"n":"ph","v":6.5}]`, false, aquarium.ReasonPack, "version 11"},
		{"two versions", home, `[{"bver":5,"n":"ph","v":6.5},{"bver":6,"n":"ph","v":6.5}]`, false, aquarium.ReasonPack, "a pack has one version"},
		{"a field that must be understood", home, `[{"n":"ph","v":6.5,"x_":1}]`, false, aquarium.ReasonPack, `"x_" must be understood`},
		{"the same in CBOR", home, unhex("81 a3 00 62 7068 02 01 62 785f 01"), false, aquarium.ReasonPack, `"x_" must be understood`},
		{"a base time that is text", home, `[{"bt":"noon","n":"ph","v":6.5}]`, false, aquarium.ReasonPack, `bt is "noon": want a number`},
		{"vs", home, `[{"n":"ph","vs":"6.5"}]`, false, aquarium.ReasonKind, "vs is text"},
		{"vd", home, `[{"n":"ph","vd":"aGkgCg"}]`, false, aquarium.ReasonKind, "vd is data"},
		{"a bare s", home, `[{"n":"ph","s":6.5}]`, false, aquarium.ReasonKind, "s is a sum"},
		{"vb for a number", home, `[{"n":"ph","vb":true}]`, false, aquarium.ReasonKind, "vb is for switches"},
		{"two values", home, `[{"n":"valve","v":1,"vb":true}]`, false, aquarium.ReasonKind, "more than one value"},
		{"v as text", home, `[{"n":"ph","v":"6.5"}]`, false, aquarium.ReasonKind, `v is "6.5": want a number`},
		{"a wrong unit", home, `[{"n":"ph","u":"Cel","v":6.5}]`, false, aquarium.ReasonUnit, `unit "Cel" for ph: want pH, mV`},
		{"gallons of which kind", home + "/store", `[{"u":"gal","v":6.5}]`, false, aquarium.ReasonUnit, `want mm, cm, m, [in_i], l, [gal_us], [gal_br]`},
		{"no object", home, `[7]`, false, aquarium.ReasonSyntax, "the record is not a JSON object"},
		{"no map", home, unhex("81 07"), false, aquarium.ReasonSyntax, "not a CBOR map"},
		{"one label twice in CBOR", home, unhex("81 a3 00 62 7068 02 01 02 02"), false, aquarium.ReasonSyntax, "not a CBOR map"},
		{"a label that is not UTF-8", home, unhex("81 a3 00 62 7068 02 01 61 ff 02"), false, aquarium.ReasonSyntax, "not a CBOR map"},
		{"a value of the wrong kind, and no name", home, `[{"v":"x"}]`, false, aquarium.ReasonKind, `v is "x": want a number`},
		{"nobody's name", home, `[{"n":"orp","v":200}]`, false, aquarium.ReasonName, `no sensor here answers to the name "orp"`},
		{"a name that only ends alike", home, `[{"n":"myph","v":6.5}]`, false, aquarium.ReasonName, "no sensor here answers"},
		{"no name", home, `[{"v":6.5}]`, false, aquarium.ReasonName, "the record has no name"},
		{"a name that is none", home, `[{"n":"_ph","v":6.5}]`, false, aquarium.ReasonName, "is not allowed there"},
		{"stored, without a time", home + "/ph", "6.5", true, aquarium.ReasonRetained, "a stored message without a time"},
		{"stored, with a relative time", home + "/ph", `[{"v":6.5,"t":-5}]`, true, aquarium.ReasonRetained, "a stored message without a time"},
		{"a time beyond the calendar", home + "/ph", `[{"v":6.5,"t":1930184070000}]`, false, aquarium.ReasonValue, "beyond the calendar"},
		{"257 KiB", home + "/ph", strings.Repeat("1", 257<<10), false, aquarium.ReasonSize, "at most 262144"},
		{"5,001 records", home + "/ph", big(5001), false, aquarium.ReasonSize, "at most 5000"},
		{"a pointer to nothing", "plant/level", `{"cm":3,"ts":0}`, false, aquarium.ReasonPointer, `pointer "/mm" finds nothing`},
		{"a pointer to null", "plant/level", `{"mm":null,"ts":0}`, false, aquarium.ReasonValue, "finds null"},
		{"a pointer to a switch", "plant/level", `{"mm":true,"ts":0}`, false, aquarium.ReasonKind, "want a number for level"},
		{"no time where it was promised", "plant/level", `{"mm":3}`, false, aquarium.ReasonPointer, `pointer "/ts" finds nothing`},
		{"not JSON", "plant/level", "3", false, aquarium.ReasonPointer, "finds nothing"},
		{"dots", "lentic/../atrium/ph", "6.5", false, aquarium.ReasonTopic, `level ".." is no name`},
		{"a wildcard", "lentic/quillmere-library/#", "6.5", false, aquarium.ReasonTopic, "is for subscribing"},
		{"NUL", home + "/p\x00h", "6.5", false, aquarium.ReasonTopic, "control character U+0000"},
		{"not UTF-8", home + "/\xff", "6.5", false, aquarium.ReasonTopic, "not UTF-8"},
		{"the broker's own", "$SYS/x", "6.5", false, aquarium.ReasonTopic, "belong to the broker"},
		{"a gateway's bad id", "lentic/quillmere-library/-/GW", "present", false, aquarium.ReasonTopic, "gateway id"},
		{"a gateway's other words", "lentic/quillmere-library/-/gw1", "hello", false, aquarium.ReasonSyntax, "says present or absent"},
		{"health as a number", "lentic/quillmere-library/-/gw1/health", "1", false, aquarium.ReasonSyntax, "is no SenML pack"},
		{"health of something else", "lentic/quillmere-library/-/gw1/health", `[{"n":"mood","v":1}]`, false, aquarium.ReasonName, `has no "mood"`},
		{"battery in volts", "lentic/quillmere-library/-/gw1/health", `[{"n":"battery","u":"V","v":3}]`, false, aquarium.ReasonUnit, "want %EL"},
		{"vb for a battery", "lentic/quillmere-library/-/gw1/health", `[{"n":"battery","vb":true}]`, false, aquarium.ReasonKind, "vb is for mains"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := registry().Decode(Message{Topic: tt.topic, Payload: []byte(tt.payload), Retained: tt.retained, Arrived: arrived, Source: "test"})
			if d.Len() != 1 || len(d.Refused) != 1 {
				t.Fatalf("got %+v, want one refusal", d)
			}
			r := d.Refused[0]
			if r.Reason != tt.reason || !strings.Contains(r.Detail, tt.detail) {
				t.Errorf("%s: %q, want %s: %q in it", r.Reason, r.Detail, tt.reason, tt.detail)
			}
			if r.Topic != tt.topic || r.Source != "test" || r.Arrived != arrived || len(r.Payload) > kept || !bytes.Contains([]byte(tt.payload), r.Payload) {
				t.Errorf("refusal %+v does not tell whose it is", r)
			}
		})
	}
}

func TestOneBadRecordCostsItself(t *testing.T) {
	d := registry().Decode(Message{Topic: home, Arrived: arrived, Payload: []byte(
		`[{"n":"ph","v":6.5},{"n":"ph","v":"x"},7,{"n":"water","u":"pH","v":1},{"n":"valve","vb":true},{"n":"light","v":1e999}]`)})
	if len(d.Readings) != 2 || len(d.Refused) != 4 {
		t.Fatalf("got %+v, want 2 readings and 4 refusals", d)
	}
	if got := string(d.Refused[0].Payload); got != `{"n":"ph","v":"x"}` {
		t.Errorf("kept %s, want the bad record", got)
	}
}

func TestAside(t *testing.T) {
	for _, tt := range []struct {
		name string
		t    int64
		want aquarium.Instant
	}{
		{"a clock at 1970", 300, 300_000},
		{"just before 2020", 1577836799, 1577836799_000},
		{"a day ahead", seconds + 86400, arrived.Add(24 * time.Hour)},
		{"eleven minutes ahead", seconds + 660, arrived.Add(11 * time.Minute)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m := Message{Topic: home, Arrived: arrived, Gateway: "gw1", Payload: fmt.Appendf(nil, `[{"bt":%d,"n":"ph","v":6.5},{"n":"light","v":7}]`, tt.t)}
			d := registry().Decode(m)
			if len(d.Aside) != 2 || len(d.Readings) != 1 || d.Len() != 3 {
				t.Fatalf("got %+v, want two set aside and the clock", d)
			}
			want := aquarium.Aside{Reading: aquarium.Reading{Sensor: key("ph"), At: tt.want, Value: 6.5, Unit: "pH"}, Gateway: "gw1", Arrived: arrived}
			if d.Aside[0] != want {
				t.Errorf("aside %+v, want %+v", d.Aside[0], want)
			}
			clock := aquarium.Reading{Sensor: own("clock"), At: arrived, Value: float64(tt.want-arrived) / 1000, Unit: "s"}
			if d.Readings[0] != clock {
				t.Errorf("clock %+v, want %+v", d.Readings[0], clock)
			}
		})
	}
}

func TestWhoseClock(t *testing.T) {
	r := registry()
	late := Message{Topic: home + "/ph", Arrived: arrived, Payload: []byte(`[{"v":6.5,"t":300}]`)}
	gateway := func() aquarium.GatewayID { return r.Decode(late).Aside[0].Gateway }
	if g := gateway(); g != UnknownGateway {
		t.Errorf("nobody seen: %q, want %q", g, UnknownGateway)
	}
	r.Decode(Message{Topic: "lentic/quillmere-library/-/gw2", Payload: []byte("present"), Arrived: arrived})
	if g := gateway(); g != "gw2" {
		t.Errorf("one seen: %q, want gw2", g)
	}
	next := registry()
	next.Inherit(r)
	r = next
	if g := gateway(); g != "gw2" {
		t.Errorf("after a new configuration: %q, want gw2", g)
	}
	r.Seen("quillmere-library", "gw3")
	if g := gateway(); g != UnknownGateway {
		t.Errorf("two seen: %q, want %q", g, UnknownGateway)
	}
	late.Gateway = "gw3"
	if g := gateway(); g != "gw3" {
		t.Errorf("by credentials: %q, want gw3", g)
	}
}

func TestUnclaimed(t *testing.T) {
	for _, topic := range []string{home + "/orp", "lentic/quillmere-library/lobby", "lentic/nowhere/atrium/ph", "other/device", home + "/room"} {
		d := registry().Decode(Message{Topic: topic, Payload: []byte("6.5"), Arrived: arrived})
		if d.Len() != 1 || len(d.Unclaimed) != 1 || d.Unclaimed[0].Topic != topic || string(d.Unclaimed[0].Payload) != "6.5" {
			t.Errorf("%s: got %+v, want it unclaimed and whole", topic, d)
		}
	}
}

func TestMay(t *testing.T) {
	r := registry()
	for topic, want := range map[string]bool{
		home + "/ph": true, "lentic/quillmere-library/-/gw1": true, "plant/room": true,
		"lentic/hotel-sarnbrook/lobby/ph": false, "lentic/quillmere-library-2/x": false, "plant/other": false,
	} {
		if got := r.May("quillmere-library", topic); got != want {
			t.Errorf("%s: %v, want %v", topic, got, want)
		}
	}
	if r.May("hotel-sarnbrook", "plant/room") {
		t.Error("a topic of another site's sensors is allowed")
	}
	if got := fmt.Sprint(r.Filters()); got != "[lentic/# plant/level plant/room]" {
		t.Errorf("filters %s", got)
	}
}

func FuzzDecode(f *testing.F) {
	r := registry()
	f.Add(home+"/ph", []byte("6.58"), false)
	f.Add(home, []byte(`[{"bn":"x:","bt":1930184070,"n":"ph","v":6.5}]`), true)
	f.Add("plant/room", []byte(`{"at":"2031-03-02T02:14:00Z","wet":true,"data":[{"temp/C":21}]}`), false)
	f.Add("lentic/quillmere-library/-/gw1/health", []byte(`[{"n":"mains","vb":false}]`), false)
	f.Fuzz(func(t *testing.T, topic string, payload []byte, retained bool) {
		d := r.Decode(Message{Topic: topic, Payload: payload, Retained: retained, Arrived: arrived})
		if n := d.Len(); n > 2*MaxRecords+1 {
			t.Errorf("%d things in one message", n)
		}
		for _, rd := range d.Readings {
			if math.IsNaN(rd.Value) || math.IsInf(rd.Value, 0) || rd.At < aquarium.Earliest || rd.At > arrived.Add(aquarium.Ahead) {
				t.Errorf("reading %+v", rd)
			}
		}
		for _, rf := range d.Refused {
			if rf.Reason == "" || rf.Detail == "" || len(rf.Payload) > kept || len(rf.Detail) > 600 {
				t.Errorf("refusal %+v", rf)
			}
		}
	})
}

func fuzzPack(f *testing.F) {
	f.Fuzz(func(t *testing.T, payload []byte) {
		rs, why := parsePack(payload)
		if len(rs) > MaxRecords || why != nil && rs != nil {
			t.Errorf("%d records, refusal %v", len(rs), why)
		}
	})
}

func FuzzSenMLJSON(f *testing.F) {
	f.Add([]byte(`[{"bn":"a:","bt":1276020076.001,"bu":"A","bver":5,"n":"v","u":"V","v":120.1},{"n":"c","t":-5,"vb":true}]`))
	fuzzPack(f)
}

func FuzzSenMLCBOR(f *testing.F) {
	f.Add([]byte(unhex("81 a2 00 61 61 02 c4 82 21 19 6ab3")))
	f.Add([]byte(unhex("9f a1 04 f5 ff")))
	fuzzPack(f)
}
