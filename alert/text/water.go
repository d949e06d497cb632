package text

import "lentic/collector/aquarium"

const closeFeed = "Shut the feed tap of the RO unit."

// waterWords are the causes of levels, stored water and floods.
var waterWords = map[aquarium.Cause]words{
	aquarium.TopOffRunaway: {is("Top-off does not stop"), func(v view) []string {
		return some(levelOr(v), v.lasting("pump on for", "run"), v.with("added", "added"))
	}, is("Unplug the top-off pump, hands dry.")},
	aquarium.TopOffFailed: {is("Top-off brings no water"), func(v view) []string {
		return some(levelOr(v), v.bound())
	}, is("Look at pump and stored water.")},
	aquarium.WaterLoss: {is("Tank loses water"), func(v view) []string {
		return some(levelOr(v))
	}, is("Look for the leak; touch no wet plug.")},
	aquarium.WaterChangeIncomplete: {is("Water change stopped half-way"), func(v view) []string {
		return some(levelOr(v))
	}, is("Stop the change, heater off if dry.")},
	aquarium.ReservoirLow: {is("Stored water runs out"), func(v view) []string {
		return some(v.labelled("left"), v.with("lasts", "days"))
	}, is("Look if the RO unit runs.")},
	aquarium.ReservoirNotRefilling: {is("Stored water does not come back"), func(v view) []string {
		return some(v.labelled("stored"))
	}, is("Look if the RO unit's tap is open.")},
	aquarium.ReservoirOverfull: {is("Stored water keeps coming"), func(v view) []string {
		return some(v.labelled("stored"), v.bound())
	}, is(closeFeed)},
	aquarium.DrainOverflow: {is("Waste container nearly full"), func(v view) []string {
		return some(levelOr(v), rim(v))
	}, is(closeFeed)},
	aquarium.DrainPumpFailed: {is("Waste pump does not empty"), func(v view) []string {
		return some(levelOr(v), v.lasting("on for", "run"))
	}, is(closeFeed)},
	aquarium.FloorWet: {is("Water on the floor"), nil,
		is("Keep people off; power off only from dry ground.")},
}

// levelOr is the value; a level says so, anything else speaks for itself.
func levelOr(v view) string {
	if v.Evidence.Unit == "mm" {
		return v.labelled("level")
	}
	if v.Evidence.Unit == "" {
		return ""
	}
	return v.value()
}

func rim(v view) string {
	if v.Evidence.Limit == nil {
		return ""
	}
	return "rim " + Value(*v.Evidence.Limit, v.Evidence.Unit)
}
