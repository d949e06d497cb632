package screen

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// BenchmarkTake judges a tank of twelve sensors and five loads at 10 s: pH,
// thermometer, level and so on, and switches that turn. A tank-year of them is 38
// million readings. Beside it stands what only handing them on costs.
func BenchmarkTake(b *testing.B) {
	tank := benchTank()
	s := New("quillmere-library", tank)
	vs := make([]aquarium.Sample, 0, 12*8640)
	for n := range 8640 {
		at := monday.Add(time.Duration(n) * 10 * time.Second)
		for i, c := range tank.Sensors {
			vs = append(vs, aquarium.Sample{Sensor: aquarium.SensorKey{Site: "quillmere-library", Tank: tank.ID, Sensor: c.ID}, At: at, Value: benchValue(c.Quantity, n, i)})
		}
	}
	var last Reading
	emit := func(v aquarium.Sample) { last.At = v.At }
	run := func(take func(i int, v aquarium.Sample)) func(b *testing.B) {
		return func(b *testing.B) {
			b.ReportAllocs()
			n, later := 0, aquarium.Instant(0)
			for b.Loop() {
				v := vs[n]
				v.At += later
				take(n%12, v)
				if n++; n == len(vs) {
					n = 0
					later = later.Add(24 * time.Hour)
				}
			}
		}
	}
	b.Run("handed on", run(func(_ int, v aquarium.Sample) { emit(v) }))
	s = New("quillmere-library", tank)
	b.Run("by index", run(func(i int, v aquarium.Sample) {
		a, b, n := s.Judge(i, Reading{v.At, v.Value, v.Quality})
		for _, r := range []Reading{a, b}[:n] {
			last = r
		}
	}))
	s = New("quillmere-library", tank)
	b.Run("by name", run(func(_ int, v aquarium.Sample) { s.Take(v, emit) }))
	_ = last
	var st State
	b.Run("save", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			s.Save(&st)
		}
	})
}

func benchTank() aquarium.Tank {
	t := aquarium.Tank{ID: "atrium"}
	for i, q := range []aquarium.Quantity{aquarium.PH, aquarium.Temperature, aquarium.Level, aquarium.Flow, aquarium.Flow, aquarium.Volume, aquarium.Level,
		aquarium.Switch, aquarium.Switch, aquarium.Switch, aquarium.Switch, aquarium.Switch} {
		t.Sensors = append(t.Sensors, aquarium.Sensor{ID: aquarium.SensorID(rune('a' + i)), Quantity: q})
	}
	return t
}

func benchValue(q aquarium.Quantity, n, i int) float64 {
	noise := float64((n*7919+i*104729)%101)/50 - 1
	switch q {
	case aquarium.Switch:
		return float64(n / (60 * (i + 1)) % 2)
	case aquarium.PH:
		return math.Round((6.8+0.2*math.Sin(float64(n)/1375)+0.006*noise)*100) / 100
	case aquarium.Temperature:
		return math.Round((24.5+0.3*math.Sin(float64(n)/1375)+0.05*noise)*10) / 10
	case aquarium.Flow:
		return math.Round(100+noise) * 10
	}
	return math.Round(100 + noise)
}
