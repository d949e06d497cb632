package detect

import (
	"fmt"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestRightAtLast: filters that are started as a declared visit ends, and a probe that is put
// back, are none that it has left so; filters that it has are told within three minutes.
func TestRightAtLast(t *testing.T) {
	const from, until = 12 * h, 12*h + 40*m
	for _, every := range []time.Duration{10 * time.Second, 30 * time.Second, m} {
		for _, back := range []time.Duration{until - m, until - 30*time.Second, until - 5*time.Second, 0} {
			s := script{paths: calm(), every: every, noise: 1, lasts: 13 * h, journal: []aquarium.Entry{visit(from, until)}}
			at := from + 5*m
			flow := fmt.Sprintf("0m:900 %v:900 %v:0", at, at+time.Second)
			if back != 0 {
				flow += fmt.Sprintf(" %v:0 %v:900", back, back+time.Second)
				s.paths["water"] = fmt.Sprintf("0m:24.7 %v:24.7 %v:21.1 %v:21.1 %v:24.6", at, at+m, back, back+m)
			}
			s.paths["flow-a"], s.paths["flow-b"] = flow, flow
			var told []time.Duration
			for _, x := range s.run(t, library()) {
				if x.Event == aquarium.Raised {
					told = append(told, x.At.Sub(zero.Add(until)))
				}
			}
			if back != 0 && len(told) > 0 || back == 0 && (len(told) != 1 || told[0] > 3*m) {
				t.Errorf("every %v, started at %v: told %v after the visit", every, back, told)
			}
		}
	}
}
