package web

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// proved gives the bench's first alarm all the evidence there can be.
func proved(b *bench) {
	expected, limit, perHour, harm := 6.6, 6.4, -0.35, 43.0
	a, _ := b.desk.Alarm("q1")
	a.Evidence = aquarium.Evidence{Sensor: "ph", Value: 5.98, Unit: "pH", Expected: &expected, Limit: &limit, PerHour: &perHour, HarmIn: &harm,
		Facts: []aquarium.Fact{{Name: "target", Value: 6.6, Unit: "pH"}, {Name: "valve", Word: "open"}, {Name: "told", Value: 0.6}},
		Excluded: []aquarium.Excluded{{What: aquarium.LookControl, Because: aquarium.Fact{Name: "under", Value: 0.62, Unit: "pH"}},
			{What: aquarium.LookPower, Because: aquarium.Fact{Name: "mains", Word: "on"}}}}
	b.desk.put(a)
}

func TestAlarmsTellTheirEvidence(t *testing.T) {
	b := newBench(t, nil)
	proved(b)
	young, _ := b.desk.Alarm("h1")
	bad := math.Inf(1)
	young.Cause, young.PageOnly, young.Projected = aquarium.FilterClogging, true, aquarium.At(time.Date(2031, 3, 14, 23, 30, 0, 0, time.UTC))
	young.Evidence.HarmIn = &bad
	b.desk.put(young)

	got := map[string]json.RawMessage{}
	for _, a := range get[[]map[string]json.RawMessage](t, b, "/api/v1/alarms?standing=true") {
		for k, v := range a {
			got[strings.Trim(string(a["id"]), `"`)+" "+k] = v
		}
	}
	for _, c := range []struct{ what, want string }{
		{"q1 value", `5.98`}, {"q1 unit", `"pH"`}, // as ever
		{"q1 evidence", `{"at":"2031-03-02T11:51:00Z","sensor":"ph","value":5.98,"unit":"pH","expected":6.6,"limit":6.4,"per_hour":-0.35,"harm_in_min":43,` +
			`"facts":[{"name":"target","value":6.6,"unit":"pH"},{"name":"valve","word":"open"}],` +
			`"excluded":[{"what":"control","because":"that keeps to its band, and pH is 0.62 under its target"},{"what":"power","because":"mains is on"}],` +
			`"text":["pH 5.98, should be 6.60, 0.62 under it, limit 6.40.","Falling 0.35 an hour.","Harm in about 40 min if it goes on, by about 12:31.","The valve was told to open.",` +
			`"Not the controller's own swing: that keeps to its band, and pH is 0.62 under its target.","Not a power cut: mains is on."]}`},
		{"q1 projected", ""}, {"q1 page_only", ""},
		{"h1 projected", `"2031-03-14"`}, {"h1 page_only", `true`},
		{"h1 evidence", `{"at":"2031-03-02T12:00:00Z","value":0,"unit":"","facts":[],"excluded":[],"text":["Expected about 14 March 2031."]}`},
	} {
		if string(got[c.what]) != c.want {
			t.Errorf("%s: got\n%s, want\n%s", c.what, got[c.what], c.want)
		}
	}
}

// The page of the alarm and the one a text links to say why, without script.
func TestPagesSayWhy(t *testing.T) {
	b := newBench(t, nil)
	proved(b)
	for _, path := range []string{"/alarm/q1", "/a/lucky"} {
		body := b.ask("GET", path, "").Body.String()
		for _, want := range []string{"Why lentic says so", "should be 6.60, 0.62 under it", "Not a power cut: mains is on.", "As of "} {
			if !strings.Contains(body, want) {
				t.Errorf("%s does not say %q", path, want)
			}
		}
	}
}
