//go:build !race

package proof

const slowness = 1
