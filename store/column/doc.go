// Package column packs what readings are made of, each kind apart: their
// times, their values, their marks, and the rows of a rollup. It exists because
// a year of readings must fit a small server: a sensor's values are decimals of
// few digits that move little, its times lie on a grid or nearly, and both cost
// a tenth of their sixteen bytes when they are written as what they are.
//
// What comes out is bit by bit what went in: NaN payloads, minus zero,
// infinities and any int64 included. A column does not hold its own length nor
// a checksum: whoever keeps it keeps how many readings it has, and seals it.
//
// The package is pure and keeps nothing between calls, so anyone may call
// anything at once. What the bytes look like is drawn in FORMAT.md beside it.
package column
