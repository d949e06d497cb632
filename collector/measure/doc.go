// Package measure says what a reading means: a Reading is kept exactly as it
// was received, and read through its sensor's configuration each time it is
// shown or judged, so that a calibration entered tomorrow mends yesterday.
//
// A Deriver does this for one sensor: scale and offset, the unit, a counter's
// rate, a level's volume, an electrode's calibrations, and whether the quantity
// can have that value at all.
package measure
