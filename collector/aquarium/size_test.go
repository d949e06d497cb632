package aquarium

import (
	"math"
	"testing"
)

// Common practice, no source: 180 x 60 x 60 cm inside holds 648 l. Litres per
// millimetre are its surface by definition.
func TestSize(t *testing.T) {
	for _, c := range []struct {
		name             string
		size             Size
		gross, net, each float64
	}{
		{"180 x 60 x 60", Size{LengthCM: 180, WidthCM: 60, FillCM: 60}, 648, 648, 1.08},
		{"with wood and stone in it", Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40}, 468, 428, 0.9},
		{"more displaced than it holds", Size{LengthCM: 10, WidthCM: 10, FillCM: 10, DisplacedL: 2}, 1, 0, 0.01},
		{"not known", Size{}, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			for what, v := range map[string][2]float64{"gross": {c.size.GrossL(), c.gross}, "net": {c.size.NetL(), c.net}, "per mm": {c.size.LitresPerMM(), c.each}} {
				if math.Abs(v[0]-v[1]) > 1e-9 {
					t.Errorf("%s: %g l, want %g", what, v[0], v[1])
				}
			}
		})
	}
}
