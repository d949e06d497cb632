package config

import (
	"slices"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// Every cause of a tank is either seen or named as not: none is passed over.
func TestSightNamesEveryCause(t *testing.T) {
	c, problems := Load("testdata/whole.yaml", world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	sights := Sight(c)
	if len(sights) != 1 || sights[0].Tank != "atrium" {
		t.Fatalf("got %+v, want the one tank", sights)
	}
	named := slices.Clone(sights[0].Sees)
	for _, b := range sights[0].Blind {
		if b.Why == "" {
			t.Errorf("%s is not seen, and nobody knows why", b.Cause)
		}
		named = append(named, b.Cause)
	}
	for _, cause := range aquarium.Causes() {
		if !cause.Own() && !slices.Contains(named, cause) {
			t.Errorf("%s is not named", cause)
		}
	}
	for _, cause := range []aquarium.Cause{aquarium.CO2Overshoot, aquarium.FilterStalled, aquarium.TopOffRunaway} {
		if !slices.Contains(sights[0].Sees, cause) {
			t.Errorf("%s is not seen at a tank that has all it needs", cause)
		}
	}
	if slices.Contains(sights[0].Sees, aquarium.FloorWet) {
		t.Error("floor-wet is seen without a sensor on the floor")
	}
}

// A pH in mV is not derived before it is calibrated: what depends on it is not
// seen until then, and the tank's own lines say why.
func TestSightOfMillivolts(t *testing.T) {
	c, problems := Parse("f.yaml", []byte(strings.Replace(base, "ph: { quantity: ph }", "ph: { quantity: ph, unit: mV }", 1)), world())
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	if w := c.Warnings.Error(); !strings.Contains(w, "tank \"atrium\", sensor \"ph\": pH in mV") || !strings.Contains(w, "lentic calibrate") {
		t.Errorf("warnings: got %s, want the sensor, the reason and the remedy", w)
	}
	for _, cause := range []aquarium.Cause{aquarium.CO2Overshoot, aquarium.CO2ValveStuck, aquarium.PHFalling, aquarium.PHLow, aquarium.PHHigh} {
		if got := Sight(c)[0].Blind; !slices.Contains(got, Blindness{cause, noPH}) {
			t.Errorf("%s is not said to be blind for want of a calibration: %v", cause, got)
		}
		calibrated := SightOf(c.Sites[0], c.Sites[0].Tanks[0], func(id aquarium.SensorID) bool { return id == "ph" })
		if !slices.Contains(calibrated.Sees, cause) {
			t.Errorf("%s is not seen with a calibration in force", cause)
		}
	}
	if !slices.Contains(Sight(c)[0].Sees, aquarium.SensorSilent) {
		t.Error("what does not depend on pH is no longer seen")
	}
}
