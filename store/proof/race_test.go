//go:build race

package proof

// slowness is by how much the race detector's work is to be less.
const slowness = 4
