package daemon

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

var update = flag.Bool("update", false, "rewrite the golden reports")

var firstDay = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))

// lineAt is a line so many hours into the first day; a return where it is negative.
func lineAt(tank aquarium.TankID, c aquarium.Cause, e aquarium.EquipmentKey, hours float64) Line {
	l := Line{Site: "quillmere-library", Tank: tank, Cause: c, Equipment: e, Priority: c.Priority(), Event: aquarium.Raised, Text: "What was seen."}
	if hours < 0 {
		hours, l.Event = -hours, aquarium.Returned
	}
	l.at = firstDay.Add(time.Duration(hours * float64(time.Hour)))
	l.Time = stamp(l.at)
	return l
}

// TestReport holds what people and programs are told of a backtest against golden
// files.
func TestReport(t *testing.T) {
	site := aquarium.Site{ID: "quillmere-library", Tanks: []aquarium.Tank{{ID: "atrium"}, {ID: "lobby"}, {ID: "stair"}}}
	was := []Line{
		lineAt("atrium", aquarium.CO2Overshoot, "co2", 30), lineAt("atrium", aquarium.CO2Overshoot, "co2", -31.5),
		lineAt("atrium", aquarium.FilterStalled, "a", 40), lineAt("atrium", aquarium.FilterStalled, "b", 40.5),
		lineAt("atrium", aquarium.FilterStalled, "a", -40.75), lineAt("atrium", aquarium.FilterStalled, "b", -150),
		lineAt("atrium", aquarium.PHHigh, "co2", 200), lineAt("atrium", aquarium.PHHigh, "co2", -201),
		lineAt("", aquarium.SiteSilent, "", 330), // stands at the end
		lineAt("stair", aquarium.TemperatureLow, "", 60), lineAt("stair", aquarium.TemperatureLow, "", -62),
	}
	is := []Line{
		lineAt("atrium", aquarium.CO2Overshoot, "co2", 29.5), lineAt("atrium", aquarium.CO2Overshoot, "co2", -31.5),
		lineAt("atrium", aquarium.FilterStalled, "a", 40), lineAt("atrium", aquarium.FilterStalled, "b", 40.5),
		lineAt("atrium", aquarium.FilterStalled, "a", -40.75), lineAt("atrium", aquarium.FilterStalled, "b", -150),
		lineAt("atrium", aquarium.CO2Overshoot, "co2", 220), lineAt("atrium", aquarium.CO2Overshoot, "co2", -221),
		lineAt("", aquarium.SiteSilent, "", 330),
	}
	set := []string{"atrium.limits.co2_mg_l=35", "atrium.limits.ph=[6.0,9.0]", "stair.limits.temperature=[20,28]"}
	for _, c := range []struct {
		name          string
		lines         []Line
		set           []string
		json, summary bool
	}{
		{name: "all", lines: was},
		{name: "none"},
		{name: "summary", lines: was, summary: true},
		{name: "tried", lines: is, set: set, summary: true},
		{name: "tried-same", lines: was, set: set, summary: true},
		{name: "tried-json", lines: is, set: set, summary: true, json: true},
		{name: "json", lines: was[:2], json: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Report{Set: c.set}
			r.Add(site, c.lines, was, Span{firstDay, firstDay.Add(14 * 24 * time.Hour)})
			var b strings.Builder
			if err := r.Write(&b, c.json, c.summary); err != nil {
				t.Fatal(err)
			}
			golden := filepath.Join("testdata", "report", c.name+".txt")
			if *update {
				if err := os.WriteFile(golden, []byte(b.String()), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil || b.String() != string(want) {
				t.Errorf("%v; got\n%s\nwant\n%s", err, b.String(), want)
			}
		})
	}
}

// Asked to, the report tells under each raise what it rests on, and under a
// return nothing, in sentences and as JSON.
func TestReportExplains(t *testing.T) {
	site := aquarium.Site{ID: "quillmere-library", Timezone: time.UTC, Tanks: []aquarium.Tank{{ID: "atrium"}}}
	normal := 1090.0
	tr := aquarium.Transition{At: firstDay, Event: aquarium.Raised, Since: firstDay, Priority: aquarium.High,
		Identity: aquarium.Identity{Site: site.ID, Tank: "atrium", Cause: aquarium.FilterStalled, Equipment: "a"},
		Evidence: aquarium.Evidence{Sensor: "flow-a", Unit: "l/h", Expected: &normal,
			Excluded: []aquarium.Excluded{{What: aquarium.LookPower, Because: aquarium.Fact{Name: "mains", Word: "on"}}}}}
	kept := book{site: site, standing: map[aquarium.Identity]aquarium.Alarm{}}
	kept.enter(tr)
	tr.At, tr.Event = firstDay.Add(time.Hour), aquarium.Returned
	kept.enter(tr)
	told := func(explain, asJSON bool) string {
		var b strings.Builder
		r := Report{Lines: kept.lines, Explain: explain}
		if err := r.Write(&b, asJSON, false); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	want := `2031-03-02T00:00:00Z  raised    high    Filter a stands still. Flow 0 l/h.
    Flow 0 l/h, should be 1090.
    Not a power cut: mains is on.
2031-03-02T01:00:00Z  returned  high    Filter a stands still. Flow 0 l/h.
`
	if got := told(true, false); !strings.HasPrefix(got, want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got := told(false, false); strings.Contains(got, "should be") {
		t.Errorf("explains what nobody asked for:\n%s", got)
	}
	const line = `"text":"Filter a stands still. Flow 0 l/h."`
	if got := told(false, true); strings.Count(got, line+"}") != 2 {
		t.Errorf("as JSON: got\n%s\nwant two lines that end with %s", got, line)
	}
	const proof = line + `,"evidence":{"sensor":"flow-a","expected":1090,"difference":-1090,"excluded":[{"what":"power","because":{"name":"mains","word":"on"}}],` +
		`"lines":["Flow 0 l/h, should be 1090.","Not a power cut: mains is on."]}}`
	if got := told(true, true); strings.Count(got, proof) != 1 || strings.Count(got, line+"}") != 1 {
		t.Errorf("as JSON: got\n%s\nwant, of the raise only,\n%s", got, proof)
	}
}
