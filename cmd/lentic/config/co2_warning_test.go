package config

import (
	"strings"
	"testing"
)

// TestCO2NearItsBound: within 30 % of the keeper's bound is worth a warning with
// the number. 4 dKH at pH 6.6 and 25 Cel hold 34.0 mg/l (PHREEQC:
// collector/water/testdata/co2_phreeqc.csv).
func TestCO2NearItsBound(t *testing.T) {
	for _, c := range []struct {
		name, limits string
		want         string // empty: no warning
	}{
		{"well under it", "alkalinity_dkh: 4\n        limits: { co2_mg_l: 50, ph: [6.2, 8.4] }", ""},
		{"69 %", "alkalinity_dkh: 4\n        limits: { co2_mg_l: 49, ph: [6.2, 8.4] }", ""},
		{"71 %", "alkalinity_dkh: 4\n        limits: { co2_mg_l: 48, ph: [6.2, 8.4] }", "about 34 mg/l, 71 % of the bound of 48 mg/l"},
		{"over it", "alkalinity_dkh: 4\n        limits: { co2_mg_l: 30, ph: [6.2, 8.4] }", "about 34 mg/l, 113 % of the bound of 30 mg/l"},
		{"colder water holds more at the same pH", "alkalinity_dkh: 4\n        limits: { co2_mg_l: 49, ph: [6.2, 8.4], temperature: [19, 21] }", "about 36 mg/l, 74 % of the bound of 49 mg/l"},
		{"no bound", "alkalinity_dkh: 4\n        limits: { ph: [6.2, 8.4] }", ""},
		{"no alkalinity", "limits: { co2_mg_l: 5, ph: [6.2, 8.4] }", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg, problems := Parse("f.yaml", []byte(strings.Replace(base, "limits: { ph: [6.2, 8.4] }", c.limits, 1)), world())
			if err := problems.Err(); err != nil {
				t.Fatal(err)
			}
			got := cfg.Warnings.Error()
			if c.want == "" && strings.Contains(got, "the water holds") || !strings.Contains(got, c.want) {
				t.Errorf("got\n%s\nwant %q", got, c.want)
			}
		})
	}
}
