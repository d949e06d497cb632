package page

import (
	"strings"
	"testing"
)

func TestUnbroken(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"Flow 890 l/h, should be 1090, 18 % under it.", "Flow 890_l/h, should be 1090, 18_% under it."},
		{"pH 5.98, should be 6.60.", "pH_5.98, should be 6.60."},
		{"Harm in about 40 min if it goes on, by about 01:56.", "Harm in about 40_min if it goes on, by about 01:56."},
		{"Not the room: it is at 21.0 °C.", "Not the room: it is at 21.0_°C."},
		{"Learned from 5 fillings, 12 sensors.", "Learned from 5 fillings, 12 sensors."},
		{"Reckoned from KH 4 dKH.", "Reckoned from KH_4_dKH."},
		{"", ""},
	} {
		if got := strings.ReplaceAll(unbroken(c.line), "\u00a0", "_"); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
