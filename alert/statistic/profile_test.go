package statistic

import (
	"encoding/json"
	"testing"
)

func TestProfile(t *testing.T) {
	var p Profile
	if m, sd, days := p.Usual(3); m != 0 || sd != 0 || days != 0 {
		t.Errorf("before the first day: %v %v %v", m, sd, days)
	}
	for day := range 20 {
		for hour := range 24 {
			v := float64(hour)
			if day == 17 {
				v += 100 // a day that went wrong
			}
			p.Take(hour, v)
		}
	}
	m, sd, days := p.Usual(12)
	near(t, "median", m, 12, 0)
	near(t, "spread", sd, 0, 0)
	near(t, "days", float64(days), ProfileDays, 0)
	for _, tt := range []struct{ at, want float64 }{{12.5, 12}, {13, 12.5}, {0.5, 0}, {0, 11.5}, {23.75, 17.25}} {
		if got, _, _ := p.At(tt.at); got != tt.want {
			t.Errorf("at %v h: %v, want %v", tt.at, got, tt.want)
		}
	}
	raw, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var back Profile
	if err := json.Unmarshal(raw, &back); err != nil || back != p {
		t.Errorf("JSON changed it: %v", err)
	}
	t.Logf("%d bytes of JSON", len(raw))
}

// TestProfileForgets: what was two weeks ago is no longer normal.
func TestProfileForgets(t *testing.T) {
	var p Profile
	for day := range 2 * ProfileDays {
		p.Take(8, float64(day/ProfileDays))
	}
	if m, _, _ := p.Usual(8); m != 1 {
		t.Errorf("median %v, want 1", m)
	}
}
