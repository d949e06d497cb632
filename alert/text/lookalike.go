package text

import (
	"strings"

	"lentic/collector/aquarium"
)

// lookalike is what a trouble was not, and how the facts that rule it out are
// told of it; a fact that is not named is told as it is by itself.
type lookalike struct {
	not     string
	because map[string]saying
}

var lookalikes = map[aquarium.Lookalike]lookalike{
	aquarium.LookControl: {"the controller's own swing", map[string]saying{
		"under": {alone: "that keeps to its band, and pH is % under its target", apart: true},
		"over":  {alone: "by its hours or the pH the valve should have been shut for %"}}},
	aquarium.LookProbe: {"a probe that lies", map[string]saying{
		"moved": {alone: "it still moves, by %", apart: true}}},
	aquarium.LookVisit: {"somebody at work", map[string]saying{"for": {alone: "it has lasted %"}}},
	aquarium.LookBurst: {"a burst hose", map[string]saying{
		"signs": {alone: "%", words: map[string]string{"probe out of a full tank": "a probe is out of a full tank", "waves before any water left": "there were waves before any water left", "one filter after another": "one filter was stopped after another", "filters off before any water left": "all filters were off before any water left"}}}},
	aquarium.LookEvaporation: {"evaporation", map[string]saying{"may": {alone: "that takes no more than %"}}},
	aquarium.LookTopOff:      {"the top-off at its work", map[string]saying{"need": {alone: "that would have taken %"}}},
	aquarium.LookChange:      {"the planned water change", map[string]saying{"still": {alone: "nothing has moved for %"}}},
	aquarium.LookSplash: {"a splash", map[string]saying{
		"for": {alone: "it has lasted %"}, "rise": {alone: "it keeps rising, %"}}},
	aquarium.LookStop: {"the usual pause", map[string]saying{
		"usual":  {alone: "that takes %", words: map[string]string{"at another time": "that comes at another time"}},
		"pauses": {alone: "that comes about %"},
		"normal": {alone: "% of the flow still comes"}}},
	aquarium.LookPower: {"a power cut", nil},
	aquarium.LookRoom: {"the room", map[string]saying{
		"room": {alone: "it is at %"}, "normal": {alone: "that brings % as a rule"}}},
	aquarium.LookCold: {"cold feed water", map[string]saying{
		"fillings": {alone: "the usual rate allows for it, learned from %", one: "filling"}}},
	aquarium.LookHardness: {"harder water", map[string]saying{"kh": {alone: "a test found KH %"}}},
	aquarium.LookPlants: {"plants or animals", map[string]saying{
		"gain": {alone: "nothing that lives gives off % an hour"},
		"held": {alone: "the gas that holds the pH is reckoned without them, and has changed to % of what is usual"},
		"gas":  {alone: "the gas of the mornings has changed with it, to % of what is usual"}}},
	aquarium.LookCylinder: {"an empty cylinder", nil},
	aquarium.LookValve:    {"a valve that does not shut", nil},
	aquarium.LookStore:    {"an empty store", nil},
	aquarium.LookClock:    {"a timer's clock some minutes off", map[string]saying{"for": {alone: "it has lasted %"}}},
	aquarium.LookSilence:  {"missing readings", nil},
	aquarium.LookSite:     {"a silent site", nil},
	aquarium.LookFloat:    {"a float that closes a little late", map[string]saying{"may": {alone: "that has left no more than %"}}},
	aquarium.LookRefill:   {"a refill under way", map[string]saying{"moved": {alone: "the store has gained % meanwhile", less: "the store has lost % meanwhile", apart: true}}},
	aquarium.LookInflow:   {"more than the pump can take", map[string]saying{"rise": {alone: "the level rose by % when the pump began", less: "the level fell by % when the pump began", apart: true}}},
}

// excluded are the lookalikes that were ruled out. One without words is left
// out; a fact without words costs only itself.
func (v view) excluded() []Exclusion {
	var xs []Exclusion
	for _, e := range v.Evidence.Excluded {
		l, ok := lookalikes[e.What]
		if !ok {
			continue
		}
		w, ok := l.because[e.Because.Name]
		if !ok {
			w = sayings[e.Because.Name]
		}
		because := w.say(e.Because, false)
		if n := len(xs) - 1; n >= 0 && xs[n].What == e.What { // ruled out twice
			xs[n].Because = strings.Join(some(xs[n].Because, because), ", ")
			continue
		}
		xs = append(xs, Exclusion{What: e.What, Because: because})
	}
	for i := range xs {
		x := &xs[i]
		x.Text = strings.Join(some("Not "+lookalikes[x.What].not, x.Because), ": ") + "."
	}
	return xs
}
