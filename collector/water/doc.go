// Package water holds the sums of an aquarium: what pH, alkalinity and
// temperature say about the carbon dioxide dissolved in it, where its pH goes
// when nobody doses and its CO2 when a valve sticks open; what a glass
// electrode makes of a pH, and how that is calibrated and drifts; how fast water
// evaporates, is pumped and is made; what heat and gas a tank needs.
//
// It exists so that these sums stand in one place, with the published source,
// the unit and the valid range beside every constant, and with the published
// tables they are tested against in testdata/SOURCES.md. Nothing here knows a
// clock, a sensor or a tank. All functions are pure and may be called by
// anyone at once.
//
// A value outside the range a sum is good for is ErrRange, wrapped with the
// value and the range; NaN and infinities are outside every range. What was
// fitted to measurements comes with its limits, and where the measurements do
// not tell it, as ErrUndetermined.
package water
