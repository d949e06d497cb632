package measure

import (
	"errors"
	"math"
	"testing"

	"lentic/collector/aquarium"
)

// TestReceivedComesBack: what an import stores means what its row said.
func TestReceivedComesBack(t *testing.T) {
	k := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "x"}
	for _, c := range []struct {
		name   string
		sensor aquarium.Sensor
		value  float64
	}{
		{"plain", aquarium.Sensor{Quantity: aquarium.PH}, 6.58},
		{"another unit of its own", aquarium.Sensor{Quantity: aquarium.Temperature, Unit: "K"}, 24.5},
		{"a number", aquarium.Sensor{Quantity: aquarium.Number, Unit: "NTU"}, 3.25},
		{"scale and offset", aquarium.Sensor{Quantity: aquarium.Level, Scale: -0.5, Offset: 12}, -3.5},
		{"litres by height", aquarium.Sensor{Quantity: aquarium.Volume, LitresPerMM: 0.9}, 142},
		{"retimed", aquarium.Sensor{Quantity: aquarium.PH}, 7},
	} {
		v := aquarium.Sample{Sensor: k, At: 1_900_000_000_000, Value: c.value}
		if c.name == "retimed" {
			v.Quality = aquarium.Retimed
		}
		r, err := Received(c.sensor, v)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		got, ok := For(k, c.sensor).Sample(r)
		if math.Abs(got.Value-v.Value) > 1e-12 || !ok {
			t.Errorf("%s: got %v, %v; want %v", c.name, got, ok, v)
		}
		if got.Value = v.Value; got != v {
			t.Errorf("%s: got %v, want %v", c.name, got, v)
		}
	}
	if _, err := Received(aquarium.Sensor{Quantity: aquarium.Flow, Counter: true}, aquarium.Sample{}); !errors.Is(err, ErrNotReversible) {
		t.Errorf("counter: got %v", err)
	}
}
