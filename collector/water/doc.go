// Package water holds the sums of an aquarium: what pH, alkalinity and
// temperature say about the carbon dioxide dissolved in it, where its pH goes
// when nobody doses, how fast it evaporates, and what a glass electrode makes
// of a pH.
//
// It exists so that these sums stand in one place, with the published source,
// the unit and the valid range beside every constant, and with the published
// tables they are tested against in testdata/SOURCES.md. Nothing here knows a
// clock, a sensor or a tank. All functions are pure and may be called by
// anyone at once.
//
// A value outside the range a sum is good for is ErrRange, wrapped with the
// value and the range; NaN and infinities are outside every range.
package water
