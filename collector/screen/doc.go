// Package screen gives every sample its quality before anything is judged: what
// the quantity cannot be, lone outliers, values that stand still for longer than
// the sensor's own noise allows, probes that stand in the air or in nothing at
// all, and readings that step with a switched load. Everything is stored and
// drawn; only what is good is judged, and a tank is not called sick because its
// probe lies.
//
// A Screen looks at one tank. It is told the tank's samples in the order of
// their times and hands them on with their quality, each at once but for one
// case: a reading far from the last is held until the next one says whether it
// was a spike or a step. It uses nothing that came later, so it says live what
// it says of the past.
//
// Its measures are the sensor's own: how far apart its readings usually lie, how
// long it repeats a value, where it is at home. They are learned as it goes, and
// the thresholds follow from them and from how often a good reading may be
// marked (rate.go). What it knows is a State, which can be copied, put back and
// kept as JSON.
//
// It is one sensor's reading that is judged here, and whether it is water that
// is being read; what is wrong with the water is not its business, and neither
// is a probe that has drifted, for drift is as slow as water. A buffer is other
// water, and its readings are good.
package screen
