package statistic

import (
	"testing"
	"time"
)

func TestLimit(t *testing.T) {
	high := Limit{Bound: 28, Deadband: 0.5, On: 60 * time.Second, Off: 30 * time.Second}
	low := Limit{Bound: 22, Deadband: 0.5, Under: true}
	type step struct {
		second int
		v      float64
		stands bool
	}
	for _, tt := range []struct {
		name  string
		limit Limit
		steps []step
		since int64
	}{
		{"at the bound is within", high, []step{{0, 28, false}, {90, 28, false}}, 0},
		{"after its delay", high, []step{{0, 27, false}, {10, 29, false}, {60, 29, false}, {70, 29, true}}, 10_000},
		{"the delay begins again", high, []step{{10, 29, false}, {60, 27, false}, {70, 29, false}, {120, 29, false}, {130, 29, true}}, 70_000},
		{"inside the deadband it stays", high, []step{{0, 29, false}, {60, 29, true}, {70, 27.8, true}, {300, 27.8, true}}, 0},
		{"back for its delay", high, []step{{0, 29, false}, {60, 29, true}, {70, 27.5, true}, {90, 28, true}, {100, 27, true}, {130, 27, false}}, 0},
		{"a lowest value", low, []step{{0, 22, false}, {10, 21.9, true}, {20, 22.4, true}, {30, 22.5, false}}, 10_000},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l := tt.limit
			for _, s := range tt.steps {
				if l.Take(int64(s.second)*1000, s.v); l.Stands != s.stands {
					t.Fatalf("at %d s: stands %v, want %v", s.second, l.Stands, s.stands)
				}
			}
			if l.Since != tt.since {
				t.Errorf("since %d, want %d", l.Since, tt.since)
			}
		})
	}
}

// TestDeadbandsPublished: testdata/alarm_benchmarks.csv, exact.
func TestDeadbandsPublished(t *testing.T) {
	got := map[string]string{}
	for _, r := range rows(t, "alarm_benchmarks.csv") {
		got[r["metric"]] = r["acceptable"]
	}
	for metric, share := range map[string]float64{"deadband_flow": DeadbandFlow, "deadband_level": DeadbandLevel,
		"deadband_pressure": DeadbandPressure, "deadband_temperature": DeadbandTemperature, "deadband_composition": DeadbandComposition} {
		text := got[metric]
		if len(text) < 3 {
			t.Fatalf("%s is not in the table", metric)
		}
		near(t, metric, share*100, num(t, text[:len(text)-2]), 1e-12)
	}
	for metric, d := range map[string]time.Duration{"delay_flow": DelayFlow, "delay_level": DelayLevel,
		"delay_pressure": DelayPressure, "delay_temperature": DelayTemperature} {
		near(t, metric, d.Seconds(), num(t, got[metric]), 0)
	}
}
