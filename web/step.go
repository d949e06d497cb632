package web

import (
	"slices"
	"time"
)

// typicalStep is the median time between neighbours; 0 with fewer than two.
func (s Series) typicalStep() time.Duration {
	if len(s.T) < 2 {
		return 0
	}
	steps := make([]time.Duration, 0, len(s.T)-1)
	for i := 1; i < len(s.T); i++ {
		steps = append(steps, s.T[i].Sub(s.T[i-1]))
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}
