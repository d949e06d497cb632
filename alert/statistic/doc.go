// Package statistic holds the small sequential tests and the robust sums that
// every judgement of a reading is built on: a limit with deadband and delays,
// the tabular CUSUM, the EWMA, the median and what goes with it, slopes, a
// change point, and what is normal at an hour of the day.
//
// It exists so that a threshold can be derived from how often a false alarm
// may be raised, and not from taste: beside each chart stands its run length
// in control, and the inverse, the threshold for a wanted run length. Published
// tables hold both (testdata/SOURCES.md).
//
// The charts assume readings that do not depend on one another; readings of
// water do. Whitener (whiten.go) says how a stated rate is kept all the same.
//
// Everything with a memory is a plain value: copying it copies all it knows,
// and none allocates when it is told a reading. Times are milliseconds since
// any one instant. NaN is no reading: whoever calls sees to that. One goroutine
// at a time may use a value; the functions may be called by anyone at once.
package statistic
