package web

import (
	"slices"
	"time"
)

// step is the time between neighbours that the part p of them does not exceed;
// 0 with fewer than two.
func (s Series) step(p float64) time.Duration {
	if len(s.T) < 2 {
		return 0
	}
	steps := make([]time.Duration, 0, len(s.T)-1)
	for i := 1; i < len(s.T); i++ {
		steps = append(steps, s.T[i].Sub(s.T[i-1]))
	}
	slices.Sort(steps)
	return steps[min(int(p*float64(len(steps))), len(steps)-1)]
}
