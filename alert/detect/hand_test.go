package detect

import (
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestBackAfterAnOutage: what the water was like before hours unseen says nothing of the
// first minutes after them: gas has come meanwhile, and that is no broken probe. One that
// goes so far between two readings is.
func TestBackAfterAnOutage(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		for _, x := range []struct {
			path string
			told bool
		}{
			{"0m:7.3 180m:- 360m:6.5 420m:6.5", false},
			{"0m:7.3 360m:7.3 360m1s:6.5 420m:6.5", true},
		} {
			s := script{paths: calm(), every: every, noise: 1, lasts: 7 * h}
			for id := range s.paths {
				if !x.told {
					s.paths[id] += " 180m:- 360m:" + s.paths[id][len("0m:"):]
				}
			}
			s.paths["ph"] = x.path
			ts := s.run(t, library())
			told := slices.ContainsFunc(ts, func(tr aquarium.Transition) bool { return tr.Identity.Cause == aquarium.SensorImplausible })
			if told != x.told {
				t.Errorf("%v, %s:%s", every, x.path, brief(ts))
			}
		}
	}
}
