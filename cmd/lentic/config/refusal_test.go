package config

import (
	"strings"
	"testing"
)

// base is a file without mistakes that the rows below spoil.
const base = `listen: { web: "127.0.0.1:8420", mqtt: "127.0.0.1:1883" }
public_url: https://watch.example.net
people: [ { id: keeper, phone: "+447700900101" } ]
channels: [ { id: texts, kind: http, url: "https://sms.example.net/send", body: "{{.Text}}" } ]
call_out: { high: [ { tell: keeper, by: texts } ] }
sites:
  - id: quillmere-library
    timezone: Europe/London
    tanks:
      - id: atrium
        limits: { ph: [6.2, 8.4] }
        sensors: { ph: { quantity: ph }, valve: { quantity: switch }, level: { quantity: level } }
        equipment: { co2: { ph: ph, target: 6.6, valve: valve } }
`

func TestBaseIsAccepted(t *testing.T) {
	if _, problems := Parse("f.yaml", []byte(base), world()); len(problems) > 0 {
		t.Fatal(problems)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown key", "call_out:", "call_uot:", "f.yaml:5:1: unknown key \"call_uot\": did you mean call_out?"},
		{"misspelt quantity", "quantity: level", "quantity: levl", "f.yaml:12:90: tank \"atrium\", sensor \"level\", quantity: \"levl\" is unknown: did you mean level?"},
		{"key twice", "limits: {", "id: b\n        limits: {", "key \"id\" is given twice, first in line 10"},
		{"site twice", "sites:\n", "sites:\n  - { id: quillmere-library, timezone: UTC, tanks: [] }\n", "id \"quillmere-library\" is given twice"},
		{"person twice", "people: [", "people: [ { id: keeper, email: k@example.net },", "id \"keeper\" is given twice"},
		{"missing key", "    timezone: Europe/London\n", "", "timezone is missing"},
		{"no value", "timezone: Europe/London", "timezone:", "timezone: has no value"},
		{"unknown sensor", "valve: valve }", "valve: valev }", "sensor \"valev\" is not one of this tank: did you mean valve?"},
		{"wrong quantity", "co2: { ph: ph,", "co2: { ph: level,", "sensor \"level\" measures level: want ph"},
		{"unknown person", "tell: keeper", "tell: keper", "person \"keper\" is not configured: did you mean keeper?"},
		{"unknown channel", "by: texts", "by: text", "channel \"text\" is not configured: did you mean texts?"},
		{"gallons", "{ quantity: level }", "{ quantity: volume, unit: gal }", "unit \"gal\" is ambiguous: US gallons are [gal_us], imperial ones [gal_br]"},
		{"wrong unit", "{ quantity: level }", "{ quantity: level, unit: l }", "unit \"l\" is not taken for level: want mm, cm, m, [in_i]"},
		{"limits reversed", "[6.2, 8.4]", "[8.4, 6.2]", "bounds 8.4 and 6.2: want the lower one first"},
		{"target out of limits", "target: 6.6", "target: 6.1", "target 6.1 lies outside this tank's limits, 6.2 to 8.4"},
		{"target absurd", "target: 6.6", "target: 66", "66 is out of range: want pH from 4 to 9"},
		{"no number", "target: 6.6", "target: NaN", "is no number"},
		{"ladder out of order", "[ { tell: keeper, by: texts } ]", "[ { after: 20m, tell: keeper, by: texts }, { after: 10m, tell: keeper, by: texts } ]", "after 10m comes before the step above it, 20m"},
		{"digest for high", "by: texts }", "by: texts, digest: \"07:30\" }", "a high alarm cannot wait"},
		{"drain out of order", "equipment: {", "equipment: { drain: { level: level, start_mm: 250, stop_mm: 60, overflow_mm: 200 },", "want overflow_mm above start_mm"},
		{"open broker", "\"127.0.0.1:1883\"", "\"0.0.0.0:1883\"", "f.yaml:1:40: listen, mqtt: \"0.0.0.0:1883\" can be reached from other machines"},
		{"open broker without port's host", "\"127.0.0.1:1883\"", "\":1883\"", "can be reached from other machines"},
		{"open broker, no TLS", "\"127.0.0.1:1883\"", "{ address: \"0.0.0.0:8883\", gateways: [ { id: gw1, site: quillmere-library, password_file: gw1.pass } ] }", "want cert and key"},
		{"open broker, no gateways", "\"127.0.0.1:1883\"", "{ address: \"0.0.0.0:8883\" }", "want gateways with their passwords"},
		{"gateway of no site", "\"127.0.0.1:1883\"", "{ address: \"127.0.0.1:1883\", gateways: [ { id: gw1, site: quilmere-library, password_file: gw1.pass } ] }", "site \"quilmere-library\" is not configured: did you mean quillmere-library?"},
		{"open web", "127.0.0.1:8420\", mqtt: \"127.0.0.1:1883\" }\npublic_url: https://watch.example.net", "0.0.0.0:8420\" }", "listen, web: \"0.0.0.0:8420\" can be reached from other machines: want public_url too"},
		{"public address in the clear", "https://watch.example.net", "http://watch.example.net", "want https"},
		{"public address with a path", "https://watch.example.net", "https://watch.example.net/x", "want scheme and host only"},
		{"provider in the clear", "https://sms", "http://sms", "http is for loopback only"},
		{"template of an unknown value", "{{.Text}}", "{{.Txt}}", "channel \"texts\": body:"},
		{"template unclosed", "{{.Text}}", "{{.Text", "channel \"texts\": body:"},
		{"environment missing", "sms.example.net/send", "sms.example.net/${MISSING_KEY}", "the environment has no MISSING_KEY"},
		{"secret file missing", "public_url:", "broker: { url: \"mqtts://b.example.net\", password_file: absent.pass }\npublic_url:", "file cannot be read"},
		{"secret file empty", "public_url:", "broker: { url: \"mqtts://b.example.net\", password_file: empty.pass }\npublic_url:", "is empty"},
		{"secret file of two lines", "public_url:", "broker: { url: \"mqtts://b.example.net\", password_file: two.pass }\npublic_url:", "more than one line"},
		{"password in the file", "public_url:", "broker: { url: \"mqtts://b.example.net\", password: hunter2 }\npublic_url:", "a password does not belong in this file"},
		{"password in the clear", "public_url:", "broker: { url: \"mqtt://b.example.net\", password_file: b.pass }\npublic_url:", "would carry the password in the clear"},
		{"two ways in", "public_url:", "broker: { url: \"mqtts://b.example.net\" }\npublic_url:", "broker and listen.mqtt are both given"},
		{"bad phone", "+447700900101", "07700 900101", "want it with plus, country code"},
		{"bad zone", "Europe/London", "Europe/Londn", "time zone \"Europe/Londn\" is unknown"},
		{"zone of the machine", "Europe/London", "Local", "time zone \"Local\" is unknown"},
		{"bad id", "id: atrium", "id: Atrium", "character 'A'"},
		{"unknown cause", "limits: {", "priorities: { ph-hihg: high }\n        limits: {", "cause \"ph-hihg\" is unknown: did you mean ph-high?"},
		{"cause cut short", "limits: {", "priorities: { ph-hi: high }\n        limits: {", "cause \"ph-hi\" is unknown: did you mean ph-high?"},
		{"fixed priority", "limits: {", "priorities: { disk-low: low }\n        limits: {", "its priority is fixed"},
		{"topic with wildcard", "{ quantity: level }", "{ quantity: level, topic: \"a/#\" }", "is for subscribing"},
		{"topic taken", "{ quantity: level }", "{ quantity: level, topic: lentic/quillmere-library/atrium/ph }", "is already that of sensor"},
		{"bad pointer", "{ quantity: level }", "{ quantity: level, pointer: value }", "is no pointer of RFC 6901"},
		{"counter without count", "{ quantity: level }", "{ quantity: flow, counter: true }", "counter without per_unit"},
		{"refresh alone", "{ quantity: level }", "{ quantity: level, refresh: 5m }", "refresh without on_change"},
		{"tab", "    tanks:", "\ttanks:", "f.yaml:9:1: not YAML"},
		{"bracket left open", "people: [ {", "people: [ [ {", "not YAML"},
		{"two documents", "people:", "---\npeople:", "a second document begins here"},
		{"not a mapping", base, "- a\n", "want keys and values"},
		{"empty", base, "", "the file is empty"},
		{"alias of nothing", "public_url: https://watch.example.net", "public_url: *none", "has no anchor"},
		{"displaced more than there is", "limits: {", "size: { length_cm: 10, width_cm: 10, fill_cm: 10, displaced_l: 2 }\n        limits: {", "want less"},
		{"quiet without end", "phone: \"+447700900101\"", "phone: \"+447700900101\", quiet: \"00:00-24:00\"", "quiet never ends"},
	} {
		t.Run(c.name, func(t *testing.T) {
			src := strings.Replace(base, c.old, c.new, 1)
			if src == base {
				t.Fatal("the row changes nothing")
			}
			_, problems := Parse("f.yaml", []byte(src), world())
			if !strings.Contains(problems.Error(), c.want) {
				t.Errorf("got\n%v\nwant %q", problems, c.want)
			}
		})
	}
}

func TestWarnings(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"no public address", "public_url: https://watch.example.net\n", "", "texts carry no link"},
		{"no lights", "", "", "no lights"},
		{"no intake", ", mqtt: \"127.0.0.1:1883\"", "", "no readings come in"},
		{"nobody told", "call_out: { high: [ { tell: keeper, by: texts } ] }\n", "", "nobody is told of a high alarm"},
		{"no phone", "phone: \"+447700900101\"", "email: k@example.net", "has no phone"},
		{"CO2 near its bound", "limits: {", "alkalinity_dkh: 6\n        limits: { co2_mg_l: 50,", "the water holds about"},
		{"dosing day and night", "", "", "at least 3 times in 12 h, or the valve often stays shut for 4 h"},
		{"long address", "https://watch.example.net", "https://watch.of-the-keeper-of-every-single-tank.in-the-county-and-beyond.example.net", "tank \"atrium\": the longest text, that of co2-valve-stuck, would take 251 characters of 160 and leaves out its link"},
		{"two tanks of a name", "        limits: {", "        name: Atrium\n        limits: {", "tank \"moat\": a text calls it \"Atrium, quillmere-library\", and tank \"atrium\" too"},
		{"two sites of a name", "    tanks:\n", "    name: Moat\n    tanks:\n", "site \"moat\": a text calls it \"moat\", and site \"quillmere-library\" too"},
	} {
		t.Run(c.name, func(t *testing.T) {
			src := strings.Replace(base, c.old, c.new, 1)
			switch c.name {
			case "two tanks of a name":
				src += "      - { id: moat, name: Atrium, sensors: { ph: { quantity: ph } } }\n"
			case "two sites of a name":
				src += "  - { id: moat, timezone: Europe/London, tanks: [ { id: pond, sensors: { ph: { quantity: ph } } } ] }\n"
			}
			cfg, problems := Parse("f.yaml", []byte(src), world())
			if len(problems) > 0 {
				t.Fatal(problems)
			}
			if !strings.Contains(cfg.Warnings.Error(), c.want) {
				t.Errorf("got\n%v\nwant %q", cfg.Warnings, c.want)
			}
		})
	}
}

// TestHoursAreNoWarning: a night without gas is known from them.
func TestHoursAreNoWarning(t *testing.T) {
	cfg, problems := Parse("f.yaml", []byte(strings.Replace(base, "valve: valve }", "valve: valve, hours: \"08:00-17:00\" }", 1)), world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	if w := cfg.Warnings.Error(); strings.Contains(w, "drift") {
		t.Errorf("warnings: got %s, want none about drift", w)
	}
}

// TestLongNamesAreNoWarning: a text calls them short, and check says how.
func TestLongNamesAreNoWarning(t *testing.T) {
	src := strings.NewReplacer("id: atrium\n", "id: atrium\n        name: The long reflecting tank under the stairs of the eastern atrium\n",
		"    timezone:", "    name: Quillmere Library and Reading Rooms, North Wing\n    timezone:").Replace(base)
	cfg, problems := Parse("f.yaml", []byte(src), world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	if w := cfg.Warnings.Error(); strings.Contains(w, "longest text") || strings.Contains(w, "calls it") {
		t.Errorf("warnings: got %s, want none about texts", w)
	}
	if s := Sight(cfg)[0]; s.Called != "The long reflecting tank under the stairs of the eastern atrium, Quillmere Library and Reading Rooms, North Wing" || s.Short != "Long, Quillmere" {
		t.Errorf("called %q, or %q", s.Called, s.Short)
	}
}

// steps is a mapping in a mapping, as deep as a file can hold.
func steps(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

// Files made to cost much cost a message.
func TestBounds(t *testing.T) {
	bomb := "a: &a [x, x, x, x, x, x, x, x, x]\n"
	for c := 'b'; c <= 'k'; c++ {
		p := string(c - 1)
		bomb += string(c) + ": &" + string(c) + " [" + strings.TrimSuffix(strings.Repeat("*"+p+", ", 9), ", ") + "]\n"
	}
	for name, src := range map[string]string{
		"aliases that multiply": bomb,
		"an alias of itself":    "a: &a [ *a ]\n",
		"brackets":              strings.Repeat("[", 1<<19),
		"braces in a list":      "a: " + strings.Repeat("{ b: ", 5000),
		"too long":              strings.Repeat("# word\n", 1<<18),
		"dashes":                strings.Repeat("- ", 1<<16),
		"steps":                 steps(1400),
		"dashes below dashes":   strings.Repeat("- - - - -\n", 1<<12),
	} {
		t.Run(name, func(t *testing.T) {
			if _, problems := Parse("f.yaml", []byte(src), world()); len(problems) == 0 {
				t.Error("accepted")
			} else if len(problems.Error()) > 2000 {
				t.Errorf("a message of %d bytes", len(problems.Error()))
			}
		})
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct{ in, want string }{{"lenght", "length"}, {"vavle", "valve"}, {"xyz", ""}, {"", ""}} {
		if got := nearest(c.in, []string{"length", "valve", "width"}); got != c.want {
			t.Errorf("nearest(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}
