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

// TestPlantsOverAGap: plants that take the gas out of the water do so while nobody hears
// the probe too, and what they took meanwhile is no probe that rose all at once; it falls
// as soon as their lamp goes out.
func TestPlantsOverAGap(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, 30 * time.Second} {
		s := script{paths: calm(), every: every, noise: 1, lasts: 22 * h}
		s.paths["ph"] = "0m:6.8 1080m:6.8 1152m:7.73 1152m1s:- 1157m:7.8 1170m:7.97 1220m:7.57 1320m:7.3"
		s.paths["valve"] = "0m:0"
		site := library()
		for _, tr := range s.run(t, site) {
			if tr.Identity.Cause == aquarium.SensorImplausible {
				t.Errorf("%v: %s", every, brief([]aquarium.Transition{tr}))
			}
		}
	}
}
