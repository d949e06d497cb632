package text

import "lentic/collector/aquarium"

// machineWords are the causes of filters, heat, light, dosing and mains.
var machineWords = map[aquarium.Cause]words{
	aquarium.FilterStalled: {func(v view) string { return join("Filter", v.part(), "stands still") }, func(v view) []string {
		return some(flowOf(v), others(v), v.lasting("mains back for", "mains"))
	}, is("Unplug 10 s, plug in.")},
	aquarium.FilterClogging: {func(v view) string { return join("Filter", v.part(), "clogs") }, func(v view) []string {
		return some(v.labelled("flow"), due(v))
	}, is("Plan its cleaning.")},
	aquarium.TemperatureHigh: {is("Water too warm"), atBound, is("Dry hands: unplug heater.")},
	aquarium.TemperatureLow:  {is("Water too cold"), atBound, is("Check heater's power.")},
	aquarium.HeaterStuckOn: {is("Heater stays on"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("Dry hands: unplug heater.")},
	aquarium.HeaterNotHeating: {is("Heater does not heat"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("Check heater's power.")},
	aquarium.CoolingNotCooling: {is("Cooling does not cool"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("See if it runs.")},
	aquarium.LightsNotOn:    {is("Lights are not on"), forLong, is("Check timer and plug.")},
	aquarium.LightsStuckOn:  {is("Lights do not go off"), forLong, is("Switch off by hand.")},
	aquarium.DoserNotDosing: {func(v view) string { return join("Doser", v.part(), "does not dose") }, forLong, is("Check bottle, add nothing.")},
	aquarium.PowerLost:      {is("No mains"), forLong, is("Ask if the power is out.")},
	aquarium.TankPowerLost:  {is("Tank without mains"), forLong, is("Ask to check its plug.")},
}

func atBound(v view) []string { return some(v.value(), v.bound()) }

func forLong(v view) []string { return some(v.lasting("for", "for")) }

// due is the day a projection names, in the site's own time.
func due(v view) string {
	if v.Projected == 0 {
		return ""
	}
	return "service due " + v.Projected.In(v.site.Timezone).Format("2 Jan")
}

// join puts words together, missing ones left out.
func join(words ...string) string {
	var out string
	for _, w := range some(words...) {
		if out != "" {
			out += " "
		}
		out += w
	}
	return out
}

// others says whether the tank has another filter that runs, which decides how
// long it bears this.
func others(v view) string {
	switch v.word("others") {
	case "running":
		return "another one runs"
	case "stalled":
		return "no other runs"
	}
	return ""
}

// flowOf is the flow against what is normal for that filter: "flow 0 of 1090 l/h".
func flowOf(v view) string {
	f, ok := v.Evidence.Fact("normal")
	if !ok || f.Unit != v.Evidence.Unit || !v.has() {
		return v.labelled("flow")
	}
	return "flow " + Number(v.Evidence.Value, f.Unit) + " of " + Value(f.Value, f.Unit)
}
