package detect

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

const testRefresh = 15 * m

// onChange makes of samples that come by the clock those of sensors that tell their
// changes only, in steps of that size, and repeat themselves at each refresh.
func onChange(tank *aquarium.Tank, xs []aquarium.Sample, steps map[aquarium.SensorID]float64) []aquarium.Sample {
	told := map[aquarium.SensorID]aquarium.Sample{}
	for id := range steps {
		s := tank.Sensor(id)
		s.OnChange, s.Refresh = true, testRefresh
	}
	for i := range xs {
		if step := steps[xs[i].Sensor.Sensor]; step > 0 {
			xs[i].Value = step * math.Round(xs[i].Value/step)
		}
	}
	return slices.DeleteFunc(xs, func(x aquarium.Sample) bool {
		id := x.Sensor.Sensor
		was, heard := told[id]
		if steps[id] > 0 && heard && x.Value == was.Value && x.At.Sub(was.At) < testRefresh {
			return true
		}
		told[id] = x
		return false
	})
}

// TestStuckToldOnChange: once a week has shown how a tank's sensors tell their changes, a
// probe that repeats itself for two hours is told; one that goes on to tell its changes
// is not, nor water that stands still at the height of a hot afternoon, nor a level that
// has nothing to say for hours of each day. Water that does so though it is heated is.
func TestStuckToldOnChange(t *testing.T) {
	frozen := 8*24*h + 4*h
	for _, x := range []struct {
		name      string
		id        aquarium.SensorID
		at        float64
		heated    bool
		equipment aquarium.EquipmentKey
	}{
		{name: "the probe", id: "ph", at: 6.6, equipment: "ph"},
		{name: "a shorted probe", id: "ph", at: 7}, // which is sensor-implausible, of 6.8 no leap that is told by itself
		{name: "warm water", id: "water", at: 24.5},
		{name: "heated water", id: "water", at: 24.5, heated: true, equipment: "water"},
	} {
		site := library()
		s := script{paths: calm(), every: time.Minute, noise: 1, lasts: frozen + 8*h}
		s.paths["water"] = ""
		for d := time.Duration(0); d < s.lasts; d += h {
			s.paths["water"] += fmt.Sprintf("%v:24.2 %v:24.8 ", d, d+30*m)
		}
		if x.at == 7 {
			s.paths["ph"] = "0m:6.8"
		}
		if x.heated {
			s.paths["heat"] += fmt.Sprintf(" %dm:1 %dm:0", int(frozen/m)+20, int(frozen/m)+50)
		}
		xs := s.samples(t, site)
		for i := range xs {
			if xs[i].Sensor.Sensor == x.id && xs[i].At > zero.Add(frozen) {
				xs[i].Value = x.at
			}
		}
		xs = onChange(&site.Tanks[0], xs, map[aquarium.SensorID]float64{"ph": 0.01, "water": 0.1, "level": 5})
		var told []aquarium.Transition
		implausible := aquarium.Instant(0)
		for _, tr := range s.play(New(site), xs, 0, s.lasts) {
			switch {
			case tr.Identity.Cause == aquarium.SensorStuck:
				told = append(told, tr)
			case tr.Identity.Cause == aquarium.SensorImplausible && implausible == 0:
				implausible = tr.At
			}
		}
		if x.at == 7 && (implausible == 0 || implausible > zero.Add(frozen+30*m)) {
			t.Errorf("%s: implausible at %v, want within half an hour of %v", x.name, implausible.Sub(zero), frozen)
		}
		if x.equipment == "" && len(told) > 0 || x.equipment != "" && (len(told) != 1 ||
			told[0].Identity.Equipment != x.equipment || told[0].At.Sub(zero.Add(frozen)) > 2*h) {
			t.Errorf("%s: told%s\nwant %q within two hours of %v", x.name, brief(told), x.equipment, frozen)
		}
	}
}

// TestFilledUpIsNoSiphon: a level that tells its changes has come up by somebody's
// bucket, and then says for half an hour nothing but that it is where it was: no two
// refreshes make a climb of that. One that goes on to climb is told.
func TestFilledUpIsNoSiphon(t *testing.T) {
	for _, x := range []struct {
		name, then string
		told       bool
	}{
		{"at rest", "180m45s:-1.5 300m:-1.5", false},
		{"climbing", "180m45s:-1.5 195m:-1.5 255m:11", true},
	} {
		site := library()
		s := script{paths: calm(), every: 5 * time.Second, lasts: 4*h + 20*m}
		s.paths["level"] = "0m:-3.5 180m:-3.5 " + x.then
		xs := onChange(&site.Tanks[0], s.samples(t, site), map[aquarium.SensorID]float64{"level": 0.5})
		ts := s.play(New(site), xs, 0, s.lasts)
		told := slices.ContainsFunc(ts, func(tr aquarium.Transition) bool { return tr.Identity.Cause == aquarium.TopOffRunaway })
		if told != x.told {
			t.Errorf("%s:%s", x.name, brief(ts))
		}
	}
}

// TestHeldBelowTheBand: a level that tells its changes has come down under its band, and
// from then on says hardly anything, for the air takes a step of it in hours. That the
// top-off does not bring it back is told as of any other.
func TestHeldBelowTheBand(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: 10 * time.Second, lasts: 20 * h}
	s.paths["level"] = "0m:0 1200m:-10" // half a millimetre an hour
	band := site.Tanks[0].Equipment.TopOff.BandMM
	xs := onChange(&site.Tanks[0], s.samples(t, site), map[aquarium.SensorID]float64{"level": 1})
	passes := time.Duration((band + failedUnknown) * float64(2*h))
	var told []time.Duration
	for _, tr := range s.play(New(site), xs, 0, s.lasts) {
		if tr.Identity.Cause == aquarium.TopOffFailed && tr.Event == aquarium.Raised {
			told = append(told, tr.At.Sub(zero))
		}
	}
	if len(told) != 1 || told[0] < passes || told[0] > passes+3*h {
		t.Errorf("told at %v, want once and within three hours of %v", told, passes)
	}
}
