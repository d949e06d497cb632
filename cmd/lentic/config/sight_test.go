package config

import (
	"slices"
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
