package text

import "lentic/collector/aquarium"

const (
	shutCylinder = "Shut the CO2 cylinder."
	testPH       = "Test pH, KH by hand."
)

// gasWords are the causes of pH and CO2. Shutting the cylinder by hand is the
// first act wherever gas may be the reason: it harms no tank within hours, and
// it works when valve, controller and network do not.
var gasWords = map[aquarium.Cause]words{
	aquarium.CO2Overshoot: {is("CO2 too high"), func(v view) []string {
		if v.Evidence.Unit == "mg/l" { // estimated, long before the pH itself looks wrong
			return some(v.estimated(), v.fact("ph"), v.factOff("ph", "target", "target"))
		}
		return some(v.value(), v.off("target", "target"), v.with("CO2 about", "co2"))
	}, is(shutCylinder)},
	aquarium.CO2ValveStuck: {is("CO2 flows though shut"), func(v view) []string {
		return some(v.value(), v.off("target", "target"), v.lasting("valve shut for", "shut"), v.lasting("no gas called for in", "over"), v.with("CO2 about", "co2"))
	}, is(shutCylinder)},
	aquarium.CO2NotDosing: {is("CO2 does not arrive"), func(v view) []string {
		return some(v.value(), v.off("target", "target"), v.lasting("asked for", "asked"), v.with("gas left", "left"))
	}, is("Read cylinder gauge.")},
	aquarium.PHFalling: {is("pH falls fast"), func(v view) []string {
		return some(v.value(), v.bound())
	}, shutIfDosed},
	aquarium.PHHigh: {is("pH too high"), func(v view) []string {
		return some(v.value(), v.bound())
	}, is(testPH)},
	aquarium.PHLow: {is("pH too low"), func(v view) []string {
		return some(v.value(), v.bound())
	}, shutIfDosed},
	aquarium.PHProbeDrift: {is("pH and KH disagree"), func(v view) []string {
		if v.fact("held") != "" {
			return some(v.labelled("held at"), v.offExpected("what gas tells"), v.with("CO2 perhaps", "co2"))
		}
		return some(v.labelled("by night"), v.offExpected("usual"), v.with("CO2 by day perhaps", "co2"))
	}, is(testPH)},
	aquarium.RoomCO2High: {is("CO2 in room air"), func(v view) []string {
		return some(v.value(), v.bound())
	}, is("All out, air the room.")},
}

func shutIfDosed(v view) string {
	if v.tank != nil && !v.co2() {
		return testPH
	}
	return shutCylinder
}

// estimated is the estimate against the bound it passed, in one piece: the one
// says nothing without the other.
func (v view) estimated() string {
	s := v.labelled("estimated")
	if b := v.bound(); b != "" {
		s += " (" + b + ")"
	}
	return s
}
