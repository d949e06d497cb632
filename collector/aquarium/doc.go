// Package aquarium holds the words lentic is written in: what a keeper looks
// after, what is measured there, and what can go wrong.
//
// A Site is a place on somebody else's premises. It has Tanks; a Tank has
// Sensors and Equipment. A Reading is one value of one sensor at one Instant,
// exactly as it was received; a Sample is what that reading means, in the
// first unit of its Quantity and with a Quality. An Alarm says that a Cause
// has been seen at a tank, since when, on what Evidence, and what people have
// done about it. A journal Entry is something people did that readings cannot
// tell: a visit, a hand test, hours in which lentic was not listening.
//
// The package imports the standard library only and has no clock, no files
// and no network. It lives under collector because a reading is born there;
// folders are not dependencies, and every other package may import it.
package aquarium
