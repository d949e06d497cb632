package text

import "lentic/collector/aquarium"

// machineWords are the causes of filters, heat, light, dosing and mains.
var machineWords = map[aquarium.Cause]words{
	aquarium.FilterStalled: {func(v view) string { return join("Filter", v.part(), "stands still") }, func(v view) []string {
		return some(v.labelled("flow"), v.with("normal", "normal"))
	}, is("Unplug it, wait 10 s, plug in again.")},
	aquarium.FilterClogging: {func(v view) string { return join("Filter", v.part(), "clogs") }, func(v view) []string {
		return some(v.labelled("flow"), v.bound(), due(v))
	}, is("Plan its cleaning.")},
	aquarium.TemperatureHigh: {is("Water too warm"), atBound, is("Unplug the heater, hands dry.")},
	aquarium.TemperatureLow:  {is("Water too cold"), atBound, is("Look if the heater has power.")},
	aquarium.HeaterStuckOn: {is("Heater does not switch off"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("Unplug the heater, hands dry.")},
	aquarium.HeaterNotHeating: {is("Heater does not heat"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("Look if the heater has power.")},
	aquarium.CoolingNotCooling: {is("Cooling does not cool"), func(v view) []string {
		return some(v.value(), v.off("target", "target"))
	}, is("Look if it runs and breathes.")},
	aquarium.LightsNotOn:    {is("Lights are not on"), forLong, is("Look at their timer and plug.")},
	aquarium.LightsStuckOn:  {is("Lights do not go off"), forLong, is("Switch them off by hand.")},
	aquarium.DoserNotDosing: {func(v view) string { return join("Doser", v.part(), "does not dose") }, forLong, is("Look at its bottle; make up no dose.")},
	aquarium.PowerLost:      {is("No mains"), forLong, is("Ask there if the power is out.")},
	aquarium.TankPowerLost:  {is("Tank without mains"), forLong, is("Ask for its plug and breaker; no wet hands.")},
}

func atBound(v view) []string { return some(v.value(), v.bound()) }

func forLong(v view) []string { return some(v.lasting("for", "for")) }

// due is the day a projection names, in the site's own time.
func due(v view) string {
	if v.Projected == 0 {
		return ""
	}
	return "reached " + v.Projected.In(v.site.Timezone).Format("2 Jan")
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
