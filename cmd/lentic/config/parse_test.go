package config

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

var update = flag.Bool("update", false, "rewrite the golden mistakes")

// world is an environment in which every secret is there.
func world() Env {
	return Env{
		Getenv: func(name string) string {
			if strings.HasPrefix(name, "MISSING") {
				return ""
			}
			return "token-of-" + name
		},
		ReadFile: func(path string) ([]byte, error) {
			switch filepath.Base(path) {
			case "absent.pass":
				return nil, errors.New("open absent.pass: no such file")
			case "empty.pass":
				return []byte("\n"), nil
			case "two.pass":
				return []byte("a\nb\n"), nil
			}
			if strings.HasSuffix(path, ".pass") {
				return []byte("secret-of-" + filepath.Base(path) + "\n"), nil
			}
			return os.ReadFile(path)
		},
	}
}

// whole.yaml holds every key of the grammar that may stand in one file.
func TestWholeGrammar(t *testing.T) {
	c, problems := Load("testdata/whole.yaml", world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	check(t, "data", c.Data, filepath.Join("testdata", "data"))
	check(t, "public_url", c.PublicURL, "https://watch.example.net")
	check(t, "web", c.Web, "127.0.0.1:8420")
	check(t, "mqtt", c.MQTT, &MQTT{Address: "127.0.0.1:1883"})
	check(t, "people", c.People, []aquarium.Person{
		{ID: "keeper", Name: "Keeper", Phone: "+447700900101", Email: "keeper@example.net", Quiet: &aquarium.Span{From: 22 * 60, To: 7 * 60}, Timezone: london},
		{ID: "deputy", Name: "Deputy", Phone: "+447700900102", Timezone: london},
	})
	check(t, "channels", c.Channels, []Channel{
		{ID: "texts", HTTP: &HTTP{
			URL: "https://sms.example.net/send", Method: "POST", Headers: map[string]Secret{"Authorization": "Bearer token-of-SMS_TOKEN"},
			Secrets: []Secret{"token-of-SMS_TOKEN"},
			Body:    `{"to":{{json .To}},"text":{{json .Text}}}`, Accepted: Accepted{200, "/status", "queued"}}},
		{ID: "mail", SMTP: &SMTP{Host: "mail.example.net", Port: 587, Username: "watch", Password: "secret-of-mail.pass", From: "watch@example.net"}},
	})
	half := aquarium.Clock(7*60 + 30)
	check(t, "call_out", c.CallOut, aquarium.CallOut{
		aquarium.High: {
			{Tell: "keeper", By: "texts"}, {After: 10 * time.Minute, Tell: "deputy", By: "texts"},
			{After: 20 * time.Minute, Tell: "keeper", By: "texts", Repeat: 15 * time.Minute}},
		aquarium.Medium: {{Tell: "keeper", By: "texts"}},
		aquarium.Low:    {{Tell: "keeper", By: "mail", Digest: &half}},
	})
	s := c.Sites[0]
	check(t, "hours", s.Hours, aquarium.Week{{Days: [7]bool{false, true, true, true, true, true, false}, Span: aquarium.Span{From: 8 * 60, To: 18 * 60}}})
	check(t, "contacts", s.Contacts, []aquarium.Contact{{ID: "desk", Phone: "+447700900103", By: "texts"}})
	tank := s.Tanks[0]
	check(t, "size", tank.Size, aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40})
	check(t, "started", tank.Started.Equal(time.Date(2031, 2, 10, 0, 0, 0, 0, london)), true)
	check(t, "lights", tank.Lights, &aquarium.Span{From: 600, To: 1080})
	check(t, "limits", tank.Limits, aquarium.Limits{PH: &aquarium.Range{Lo: 6.2, Hi: 8.4}, Temperature: &aquarium.Range{Lo: 22, Hi: 28}, CO2: 50})
	check(t, "sensors", len(tank.Sensors), 12)
	check(t, "a sensor", tank.Sensors[0], aquarium.Sensor{ID: "ph", Quantity: aquarium.PH, Unit: "pH"})
	check(t, "equipment", tank.Equipment, aquarium.Equipment{
		CO2:    &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve", Hours: &aquarium.Span{From: 480, To: 1020}},
		TopOff: &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90, From: "store"},
		Filters: []aquarium.Filter{{ID: "a", Flow: "flow-a", RatedLH: 1100},
			{ID: "b", Flow: "flow-b", RatedLH: 1100, ServiceLimit: 0.67, Stops: []aquarium.Stop{{At: 750, For: 10 * time.Minute}}}},
		Reservoir: &aquarium.Reservoir{Volume: "store", CapacityL: 200, Refill: "refill", ProductionLH: 70},
		Drain:     &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380, Pump: "waste-pump"},
		Heater:    &aquarium.Heater{Temperature: "water", Switch: "heat", Target: 24.5},
	})
}

// TestSecretsOfAChannel: the environment is asked wherever a secret may stand,
// and what it gave is known as one.
func TestSecretsOfAChannel(t *testing.T) {
	src := strings.Replace(base, `url: "https://sms.example.net/send", body: "{{.Text}}"`,
		`url: "https://sms.example.net/send?key=${URL_KEY}", headers: { X-Key: "${HEADER_KEY}" }, body: '{"key":"${BODY_KEY}","text":{{json .Text}}}'`, 1)
	c, problems := Parse("f.yaml", []byte(src), world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	h := c.Channels[0].HTTP
	check(t, "url", h.URL, "https://sms.example.net/send?key=token-of-URL_KEY")
	check(t, "body", h.Body, `{"key":"token-of-BODY_KEY","text":{{json .Text}}}`)
	check(t, "secrets", h.Secrets, []Secret{"token-of-URL_KEY", "token-of-HEADER_KEY", "token-of-BODY_KEY"})
}

func check(t *testing.T, what string, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s: got %+v, want %+v", what, got, want)
	}
}

// The rest of the grammar: what the other file has no room for.
func TestOtherParts(t *testing.T) {
	c, problems := Load("testdata/other.yaml", world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	check(t, "prefix", c.Prefix, "tanks")
	check(t, "heartbeat", c.Heartbeat, "https://beat.example.net/token-of-BEAT")
	check(t, "broker", c.Broker, &Broker{URL: "wss://broker.example.net/mqtt", Username: "lentic", Password: "secret-of-broker.pass"})
	tank := c.Sites[0].Tanks[0]
	check(t, "topic", tank.Sensors[0], aquarium.Sensor{ID: "ph", Quantity: aquarium.PH, Unit: "pH", Topic: "plant/one", Pointer: "/d/ph", TimePointer: "/t", TimeUnit: aquarium.Milliseconds, Scale: 0.1, Offset: -0.2})
	check(t, "counter", *tank.Sensor("flow"), aquarium.Sensor{ID: "flow", Quantity: aquarium.Flow, Counter: true, PerUnit: 450})
	check(t, "level as volume", *tank.Sensor("store"), aquarium.Sensor{ID: "store", Quantity: aquarium.Volume, Unit: "cm", LitresPerMM: 0.9, Every: 30 * time.Second})
	check(t, "level as volume, by its level", *tank.Sensor("spare"), aquarium.Sensor{ID: "spare", Quantity: aquarium.Volume, Unit: "mm", LitresPerMM: 0.9})
	check(t, "on change", *tank.Sensor("wet"), aquarium.Sensor{ID: "wet", Quantity: aquarium.Switch, OnChange: true, Refresh: 15 * time.Minute})
	e := tank.Equipment
	check(t, "cylinder", e.CO2.Cylinder, &aquarium.Cylinder{Mass: "bottle", TareKG: 7.2})
	check(t, "floats", e.TopOff, &aquarium.TopOff{Low: "low", High: "high"})
	check(t, "cooling", e.Cooling, &aquarium.Cooling{Temperature: "water", Switch: "fan", Target: 26})
	check(t, "room", e.Room, &aquarium.Room{Temperature: "air", Humidity: "damp", CO2: "gas"})
	check(t, "floor", e.Floor, &aquarium.Floor{Wet: "wet"})
	check(t, "power", e.Power, &aquarium.PowerSupply{Mains: "mains"})
	check(t, "lights", e.Lights, &aquarium.LightsSwitch{Switch: "lamp"})
	check(t, "water change", e.WaterChange, &aquarium.WaterChange{Out: "out", In: "in", Litres: 60, At: []aquarium.WeekTime{{Day: time.Sunday, At: 360}, {Daily: true, At: 1200}}})
	check(t, "dosers", e.Dosers, []aquarium.Doser{{ID: "iron", Switch: "doser", MLPerDay: 2.5}})
	check(t, "priorities", tank.Priorities, map[aquarium.Cause]aquarium.Priority{aquarium.PHHigh: aquarium.High})
	check(t, "ladder to contacts", c.CallOut[aquarium.High][0], aquarium.Rung{Tell: "contacts", By: "texts"})
}

// Twenty mistakes, all told at once, each with its place.
func TestTwentyMistakes(t *testing.T) {
	_, problems := Load("testdata/twenty.yaml", world())
	if len(problems) != 20 {
		t.Errorf("%d mistakes, want 20", len(problems))
	}
	golden := "testdata/twenty.txt"
	got := problems.Error() + "\n"
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// The example that operators start from is itself checked.
func TestExampleIsAccepted(t *testing.T) {
	env := world()
	read := env.ReadFile
	env.ReadFile = func(path string) ([]byte, error) {
		if filepath.IsAbs(path) {
			return []byte("secret"), nil
		}
		return read(path)
	}
	c, problems := Load("../../../deploy/lentic.yaml", env)
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	if len(c.Sites) < 2 {
		t.Errorf("%d sites", len(c.Sites))
	}
}

func TestSecretsAreNeverPrinted(t *testing.T) {
	src := strings.ReplaceAll(base, "url: \"https://sms.example.net/send\"", "url: \"gopher://${TOKEN}.example.net\"")
	_, problems := Parse("f.yaml", []byte(src), world())
	if len(problems) == 0 || strings.Contains(problems.Error(), "token-of-TOKEN") {
		t.Errorf("got %v", problems)
	}
	c, problems := Load("testdata/whole.yaml", world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{c.Channels[1].SMTP.Password.String(), c.Channels[0].HTTP.Headers["Authorization"].String()} {
		if s != "***" {
			t.Errorf("a secret prints as %q", s)
		}
	}
}

func FuzzParse(f *testing.F) {
	// Small ones, which are quick to vary; whole files are read by the other tests.
	for _, part := range strings.SplitAfter(base, "\n") {
		f.Add([]byte(part))
	}
	f.Add([]byte("sites: [{id: a, timezone: UTC, tanks: [{id: b, sensors: {ph: {quantity: ph}}, equipment: {co2: {ph: ph, hours: \"08:00-17:00\"}}}]}]"))
	for _, s := range []string{"", "a", "[", "{a: [", "a: &x [*x, *x]", "sites: !!x {}", "- - -", "a:\n\tb: 1", "? [a]\n: b", "<<: *a", "a: |\n b\n", "\x00", "--- a\n--- b\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		c, problems := Parse("f.yaml", b, world())
		if (c == nil) != (len(problems) > 0) {
			t.Errorf("config %v with %d problems", c != nil, len(problems))
		}
		_ = problems.Error()
	})
}
