// Package tanks makes up the readings that the measures are taken with: planted
// tanks of twelve sensors, one reading each every ten seconds, the same for the
// same seed. It knows the odds of every value and stamp it draws, and so how
// small they could possibly be kept.
package tanks
