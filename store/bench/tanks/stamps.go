package tanks

import "math"

// Every is the distance between two readings of a sensor, in milliseconds.
const Every = 10_000

// Jitter is how much later than its turn a reading's stamp may be, in
// milliseconds; every millisecond below is as likely.
const Jitter = 100

// Stamps is how readings get their times.
type Stamps int

const (
	// Own gives every reading a jittered millisecond of its own.
	Own Stamps = iota
	// Message gives the readings of one message, those of one tank, one
	// jittered millisecond.
	Message
	// Seconds gives whole seconds without jitter, the same for a tank.
	Seconds
)

var stampWords = [...]string{"every reading its own jittered ms stamp", "one stamp per 12-sensor message", "whole-second stamps"}

func (s Stamps) String() string { return stampWords[s] }

// Bits is the information in one reading's stamp, given its turn.
func (s Stamps) Bits() float64 {
	switch s {
	case Own:
		return math.Log2(Jitter)
	case Message:
		return math.Log2(Jitter) / Sensors
	}
	return 0
}
