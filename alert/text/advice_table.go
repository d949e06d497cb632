package text

import "lentic/collector/aquarium"

func adviceOf(c aquarium.Cause) Advice {
	if a, ok := advices[c]; ok {
		return a
	}
	return Advice{First: lookFirst}
}

var advices = map[aquarium.Cause]Advice{}
