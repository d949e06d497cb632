package screen

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestSurgeIsJudged: eighteen times the usual flow of gas, from a night's plateau and
// with a reading a minute, is water and no probe that has left it; where no gas is
// dosed nothing else does that.
func TestSurgeIsJudged(t *testing.T) {
	for _, gassed := range []bool{true, false} {
		tank := aquarium.Tank{ID: "atrium", Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}}}
		if gassed {
			tank.Equipment.CO2 = &aquarium.CO2{PH: "ph", Target: 6.6}
		}
		s := New("quillmere-library", tank)
		refused := 0
		for m := range 300 {
			v := 7.2 + 0.01*float64(m%3)
			if m >= 280 { // 11 mg/l a minute for six minutes
				v = 7.2 + math.Log10(8) - math.Log10(8+11*float64(min(m-279, 6)))
			}
			a, b, n := s.Judge(0, Reading{At: monday.Add(time.Duration(m) * time.Minute), Value: math.Round(v*100) / 100})
			for _, r := range []Reading{a, b}[:n] {
				if m >= 280 && !r.Quality.Judged() {
					refused++
				}
			}
		}
		if gassed && refused > 0 {
			t.Errorf("%d readings of a surge are not judged", refused)
		}
		if !gassed && refused == 0 {
			t.Errorf("without gas all readings are judged")
		}
	}
}
