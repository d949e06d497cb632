package text

import (
	"slices"
	"strings"

	"lentic/collector/aquarium"
)

// words says one cause: what is wrong, what proves it, what to do first.
type words struct {
	what  func(v view) string
	proof func(v view) []string
	act   func(v view) string
}

// is a wording that does not depend on the alarm.
func is(s string) func(view) string { return func(view) string { return s } }

// wordingOf is the alarm in words. A cause without a wording of its own, which
// only a newer ledger can hold, is told by its name.
func wordingOf(a aquarium.Alarm, s aquarium.Site) wording {
	v := viewOf(a, s)
	w, ok := wordings[a.Cause]
	if !ok {
		return wording{What: GSM7(string(a.Cause)), Proof: some(v.value(), v.bound()), Trend: v.trend(), Act: lookFirst}
	}
	out := wording{What: w.what(v), Act: w.act(v)}
	// A flow's change per hour says nothing; what it was before does.
	if a.Evidence.Unit != "l/h" {
		out.Trend = v.trend()
	}
	if w.proof != nil {
		out.Proof = w.proof(v)
	}
	if len(out.Proof) == 0 || !v.has() {
		out.Trend = ""
	}
	if a.Evidence.LastKnown && !silences[a.Cause] {
		out.Proof = lastKnown(out.Proof)
	}
	return out
}

// silences are the causes that speak of silence themselves.
var silences = map[aquarium.Cause]bool{aquarium.SensorSilent: true, aquarium.SiteSilent: true, aquarium.IntakeLost: true}

// lastKnown says of what proves an alarm that it is from before its readings
// stopped: a number is the last known one, a time goes on.
func lastKnown(proof []string) []string {
	switch {
	case len(proof) == 0:
		return []string{"last known"}
	case strings.HasPrefix(proof[0], "for "):
		return slices.Insert(slices.Clone(proof), 1, "last known")
	}
	return append([]string{"last known " + proof[0]}, proof[1:]...)
}

const lookFirst = "Have somebody look."

var wordings = merge(gasWords, waterWords, machineWords, otherWords)

func merge(ms ...map[aquarium.Cause]words) map[aquarium.Cause]words {
	all := map[aquarium.Cause]words{}
	for _, m := range ms {
		for c, w := range m {
			all[c] = w
		}
	}
	return all
}
