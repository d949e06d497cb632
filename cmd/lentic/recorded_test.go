package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

// stage is two tanks at two sites, of which one never has anything.
const stage = `data: ./data
sites:
  - id: quillmere-library
    timezone: Europe/London
    tanks:
      - id: atrium
        alkalinity_dkh: 4
        limits: { ph: [6.2, 8.4], temperature: [22, 28] }
        sensors: { ph: { quantity: ph }, water: { quantity: temperature }, flow: { quantity: flow } }
        equipment: { filters: [ { id: a, flow: flow, rated_l_h: 1000 } ] }
  - id: hotel-sarnbrook
    timezone: Europe/London
    tanks:
      - id: lobby
        limits: { temperature: [22, 28] }
        sensors: { water: { quantity: temperature } }
`

// acts are what happens there: a path of values over minutes for each sensor.
var acts = []struct{ site, tank, sensor, path string }{
	{"quillmere-library", "atrium", "ph", "0:6.8 600:6.8 ~700:6.1 760:6.1 ~800:6.8 2094:6.8 ~2100:6.25 2200:6.4 ~2260:6.8 2880:6.8"},
	{"quillmere-library", "atrium", "water", "0:24.5 2880:24.5"},
	{"quillmere-library", "atrium", "flow", "0:900 299:900 300:0 330:0 331:900 1499:900 1500:20 1560:20 1561:900 2870:900 2871:0 2880:0"},
	{"hotel-sarnbrook", "lobby", "water", "0:25 2880:25"},
}

var curtain = aquarium.At(time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC))

// played are the rows of two days, by sensor as an export has them.
func played() (rows []string) {
	for _, a := range acts {
		for m := range 2880 {
			v := valueAt(a.path, float64(m)) * (1 + 1e-4*float64(m%5))
			rows = append(rows, fmt.Sprintf("%s,%s,%s,%s,%.3f\n", curtain.Add(time.Duration(m)*time.Minute).Time().Format(time.RFC3339), a.site, a.tank, a.sensor, v))
		}
	}
	return rows
}

func writeRows(t *testing.T, path string, rows []string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte("time,site,tank,sensor,value\n"+strings.Join(rows, "")), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestRowsInAnyOrder: the same rows give the same lines whether they come by
// time, by sensor, shuffled, or by time but for the last one; rows that cannot be
// read are told once.
func TestRowsInAnyOrder(t *testing.T) {
	dir := t.TempDir()
	cfg := writeConfig(t, dir, stage)
	bySensor := played()
	byTime := slices.Clone(bySensor)
	slices.SortStableFunc(byTime, func(a, b string) int { return strings.Compare(a[:20], b[:20]) })
	shuffled := slices.Clone(byTime)
	rand.New(rand.NewPCG(3, 1)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	twice := slices.Clone(byTime) // the first value stands
	for i := 0; i < len(twice); i += 500 {
		twice = slices.Insert(twice, i+1, twice[i][:strings.LastIndex(twice[i], ",")]+",0\n")
	}
	var want string
	for _, c := range []struct {
		name string
		rows []string
	}{
		{"by time", byTime},
		{"by sensor", bySensor},
		{"shuffled", shuffled},
		{"by time but for one", append(slices.Clone(byTime[1:]), byTime[0])},
		{"some twice", twice},
	} {
		t.Run(c.name, func(t *testing.T) {
			// The second line and one in the middle are none.
			rows := slices.Insert(slices.Clone(c.rows), 1, "2031-03-02T00:00:00Z,quillmere-library,atrium,ph,much\n")
			rows = slices.Insert(rows, 5000, "2031-03-02T00:00:00Z,quillmere-library,atrium,hp,6.6\n")
			out, errs, status := lentic(t, "backtest", "-c", cfg, "--readings", writeRows(t, filepath.Join(dir, "rows.csv"), rows), "--json")
			if status != 0 || strings.Count(errs, "\n") != 2 || !strings.Contains(errs, "rows.csv:3: ") || !strings.Contains(errs, "rows.csv:5002: ") {
				t.Fatalf("exit status %d: %s", status, errs)
			}
			if want == "" {
				want = out
			}
			if out != want || strings.Count(out, "\n") < 6 {
				t.Errorf("got\n%s\nwant\n%s", out, want)
			}
		})
	}
}

// TestSetRefused: a mistake in what is tried is told as one of the file.
func TestSetRefused(t *testing.T) {
	dir := t.TempDir()
	cfg := writeConfig(t, dir, stage)
	rows := writeRows(t, filepath.Join(dir, "rows.csv"), played())
	_, errs, status := lentic(t, "backtest", "-c", cfg, "--readings", rows, "--set", "atrium.limits.hp=[6.3,8.4]")
	if status != 78 || !strings.Contains(errs, `--set atrium.limits.hp=[6.3,8.4]:1:18: tank "atrium", limits: unknown key "hp": did you mean ph?`) {
		t.Errorf("exit status %d, want 78: %s", status, errs)
	}
}

// TestSetJudgesBoth: what is printed of a limit that is tried is what a file with
// that limit gives.
func TestSetJudgesBoth(t *testing.T) {
	dir := t.TempDir()
	cfg := writeConfig(t, dir, stage)
	rows := writeRows(t, filepath.Join(dir, "rows.csv"), played())
	tried, errs, _ := lentic(t, "backtest", "-c", cfg, "--readings", rows, "--json", "--set", "atrium.limits.ph=[6.3,8.4]")
	other := writeConfig(t, t.TempDir(), strings.Replace(stage, "ph: [6.2, 8.4]", "ph: [6.3, 8.4]", 1))
	want, errs2, _ := lentic(t, "backtest", "-c", other, "--readings", rows, "--json")
	if tried != want || errs+errs2 != "" {
		t.Errorf("got\n%s\nwant\n%s%s%s", tried, want, errs, errs2)
	}
	summary, _, _ := lentic(t, "backtest", "-c", cfg, "--readings", rows, "--summary", "--set", "atrium.limits.ph=[6.3,8.4]")
	if want := "more   2031-03-03T11:06:00Z  until 2031-03-03T12:51:00Z  high    ph-low"; !strings.Contains(summary, want) {
		t.Errorf("got\n%s\nwant a line with %s", summary, want)
	}
	first, _, _ := strings.Cut(tried, "\n")
	var l daemon.Line
	if err := json.Unmarshal([]byte(first), &l); err != nil || l.Cause == "" {
		t.Errorf("%q is no line: %v", first, err)
	}
}

// TestFarOffYear: a row whose year is a slip costs its alarms and no time; one
// that cannot even be that is left out.
func TestFarOffYear(t *testing.T) {
	dir := t.TempDir()
	cfg := writeConfig(t, dir, stage)
	rows := played()[:2880]
	for _, year := range []string{"2131", "1971", "0001", "9999"} {
		rows = append(rows, year+"-03-04T00:00:00Z,quillmere-library,atrium,ph,6.8\n")
	}
	out, errs, status := lentic(t, "backtest", "-c", cfg, "--readings", writeRows(t, filepath.Join(dir, "rows.csv"), rows), "--json")
	if status != 0 || !strings.Contains(out, `"cause":"site-silent"`) || !strings.Contains(out, `"time":"2131-03-04T00:00:00Z"`) {
		t.Errorf("exit status %d: %s", status, out)
	}
	for _, want := range []string{"rows.csv:2884: time 0001-03-04T00:00:00.000Z: is the year a slip? Want 1970 to 2200", "rows.csv:2885: "} {
		if !strings.Contains(errs, want) {
			t.Errorf("said %q, want %q", errs, want)
		}
	}
}
