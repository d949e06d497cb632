package text

import "lentic/collector/aquarium"

const (
	shutCylinder = "Shut the valve on the CO2 cylinder."
	testPH       = "Test pH and KH by hand."
)

// gasWords are the causes of pH and CO2. Shutting the cylinder by hand is the
// first act wherever gas may be the reason: it harms no tank within hours, and
// it works when valve, controller and network do not.
var gasWords = map[aquarium.Cause]words{
	aquarium.CO2Overshoot: {is("CO2 too high"), func(v view) []string {
		if v.Evidence.Unit == "mg/l" {
			return some(v.labelled("about"), v.bound())
		}
		return some(v.value(), v.off("target", "target"), v.with("CO2 about", "co2"))
	}, is(shutCylinder)},
	aquarium.CO2ValveStuck: {is("CO2 flows though shut off"), func(v view) []string {
		return some(v.value(), v.off("target", "target"), v.with("CO2 about", "co2"))
	}, is(shutCylinder)},
	aquarium.CO2NotDosing: {is("CO2 does not reach the water"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("Read the cylinder's gauge.")},
	aquarium.PHFalling: {is("pH falls fast"), func(v view) []string {
		return some(v.value(), v.bound())
	}, shutIfDosed},
	aquarium.PHHigh: {is("pH too high"), func(v view) []string {
		return some(v.value(), v.bound())
	}, is(testPH)},
	aquarium.PHLow: {is("pH too low"), func(v view) []string {
		return some(v.value(), v.bound())
	}, shutIfDosed},
	aquarium.PHProbeDrift: {is("pH probe drifts or KH changed"), func(v view) []string {
		return some(v.value(), v.off("expected", "what KH tells"), v.with("CO2 about", "co2"))
	}, is(testPH)},
	aquarium.RoomCO2High: {is("CO2 in the room's air"), func(v view) []string {
		return some(v.value(), v.bound())
	}, is("Everybody out, then air the room.")},
}

func shutIfDosed(v view) string {
	if v.tank != nil && !v.co2() {
		return testPH
	}
	return shutCylinder
}
