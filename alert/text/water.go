package text

import (
	"strings"

	"lentic/collector/aquarium"
)

const closeFeed = "Shut the RO feed tap."

// waterWords are the causes of levels, stored water and floods.
var waterWords = map[aquarium.Cause]words{
	aquarium.TopOffRunaway: {is("Top-off does not stop"), func(v view) []string {
		return some(levelOr(v), v.lasting("pump on", "run"), v.with("added", "added"))
	}, is("Dry hands: unplug pump.")},
	aquarium.TopOffFailed: {is("Top-off brings no water"), func(v view) []string {
		return some(levelOr(v), v.lasting("pump on", "run"), v.bound())
	}, is("Check pump and store.")},
	aquarium.WaterLoss: {is("Tank loses water"), func(v view) []string {
		return some(levelOr(v), losing(v))
	}, is("Look for leaks, stay dry.")},
	aquarium.WaterChangeIncomplete: {is("Water change half done"), func(v view) []string {
		return some(levelOr(v), v.with("missing", "missing"))
	}, is("Stop it; heater off.")},
	aquarium.ReservoirLow: {is("Store runs out"), func(v view) []string {
		return some(v.labelled("left"), v.lasting("lasts", "lasts"))
	}, is("See if the RO runs.")},
	aquarium.ReservoirNotRefilling: {is("Store does not refill"), func(v view) []string {
		return some(v.labelled("stored"), makes(v))
	}, is("See if RO tap is open.")},
	aquarium.ReservoirOverfull: {is("Store overfills"), func(v view) []string {
		return some(v.labelled("stored"), v.bound())
	}, is(closeFeed)},
	aquarium.DrainOverflow: {is("Waste nearly full"), func(v view) []string {
		return some(depth(v), rim(v))
	}, is(closeFeed)},
	aquarium.DrainPumpFailed: {is("Waste not pumped out"), func(v view) []string {
		return some(depth(v), v.lasting("pump on", "run"))
	}, is(closeFeed)},
	aquarium.FloorWet: {is("Water on the floor"), forLong,
		is("Keep people off it.")},
}

// losing is what the tank loses: by the day what is little by the hour.
func losing(v view) string {
	f, ok := v.Evidence.Fact("loss")
	if ok && f.Unit == "l/h" && f.Value < 10 {
		return Value(24*f.Value, "l") + " a day"
	}
	return v.fact("loss")
}

// makes is what comes into the store: little, and told finer than a filter's flow.
func makes(v view) string {
	f, ok := v.Evidence.Fact("made")
	if !ok {
		return ""
	}
	return "makes " + written(f.Value, f.Unit)
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

// depth is a level above a container's bottom, which has no sign.
func depth(v view) string { return strings.Replace(levelOr(v), "+", "", 1) }

func rim(v view) string {
	if v.Evidence.Limit == nil {
		return ""
	}
	return "rim " + strings.TrimPrefix(Number(*v.Evidence.Limit, v.Evidence.Unit), "+")
}
