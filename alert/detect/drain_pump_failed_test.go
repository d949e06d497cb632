package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestCreepsToItsStart: a container that fills for hours past where its pump comes, or
// rests just there, by a level that errs by a millimetre and a half, is over that for some
// readings by chance.
func TestCreepsToItsStart(t *testing.T) {
	site := library()
	withStores(&site.Tanks[0])
	for name, filled := range map[string]float64{"it fills": 9.5, "it rests": 0} { // mm in half a day
		told := 0
		for seed := range uint64(10) {
			rng := rand.New(rand.NewPCG(seed, 7))
			w := New(site)
			for at := time.Duration(0); at <= 12*h; at += aquarium.Step {
				now := zero.Add(at)
				if at%time.Minute == 0 {
					mm := 249.5 - filled*(1-at.Hours()/12) + 1.5*rng.NormFloat64()
					for id, v := range map[aquarium.SensorID]float64{"waste": math.Round(2*mm) / 2, "waste-pump": 0} {
						w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: id}, At: now, Value: v})
					}
				}
				for _, x := range w.Tick(now) {
					if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.DrainPumpFailed {
						told++
					}
				}
			}
		}
		if told > 0 {
			t.Errorf("%s: told %d times of a pump that need not run yet", name, told)
		}
	}
}

// TestReadJustOverItsStart: of a container that fills by six millimetres a minute and is read
// once a minute, the first reading over where the pump should come may be over it by less
// than noise is: the three minutes count from when the water was there all the same.
func TestReadJustOverItsStart(t *testing.T) {
	site := library()
	withStores(&site.Tanks[0])
	site.Tanks[0].Equipment.Drain.Pump = ""
	for name, pump := range map[string]float64{"dead": 0, "works": 30} { // mm a minute
		for over := 0.0; over < 6; over += 0.7 { // the first reading
			w := New(site)
			start := site.Tanks[0].Equipment.Drain.StartMM
			filled := 2*h + 19*time.Second // when it is read so
			passed, told := filled-time.Duration(over/6*float64(time.Minute)), time.Duration(0)
			for at := time.Duration(0); at <= 2*h+5*time.Minute; at += time.Second {
				now := zero.Add(at)
				if at%time.Minute == 19*time.Second {
					mm := start + 6*(at-passed).Minutes()
					if at > passed {
						mm -= pump * (at - passed).Minutes()
					}
					w.Observe(aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "waste"}, At: now, Value: math.Round(max(mm, 100))})
				}
				if at%aquarium.Step != 0 {
					continue
				}
				for _, x := range w.Tick(now) {
					if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.DrainPumpFailed {
						told = at
					}
				}
			}
			if dead := pump == 0; dead != (told != 0) || dead && told-passed > pumpFailedAfter+aquarium.Step {
				t.Errorf("%s, read %.1f mm over its start: told %v after it was there", name, over, told-passed)
			}
		}
	}
}
