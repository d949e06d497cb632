package tanks

import "lentic/collector/aquarium"

// Sensors is how many a tank has.
const Sensors = 12

// sensor is what a tank's n-th sensor is and how finely it tells.
type sensor struct {
	id    aquarium.SensorID
	unit  aquarium.Unit
	per   float64 // steps in one unit: a value is a whole number of steps over this
	sigma float64 // noise in steps, 0 for switches
}

// The sensors of one tank as an operator's file would name them. Steps are
// those of common parts: 1/16 degree is a DS18B20's (its data sheet: 12 bits),
// the others and all noise are common practice, no source. Together the noise
// holds some 1.7 bits a reading.
var sensors = [Sensors]sensor{
	{"ph", "pH", 100, 0.8},
	{"water", "Cel", 16, 0.6},
	{"level", "mm", 2, 1.2},
	{"flow-a", "l/h", 1, 8},
	{"flow-b", "l/h", 1, 9},
	{"valve", "", 1, 0},
	{"topoff", "", 1, 0},
	{"store", "l", 10, 1.5},
	{"refill", "", 1, 0},
	{"waste", "mm", 1, 0.9},
	{"waste-pump", "", 1, 0},
	{"heat", "", 1, 0},
}

const (
	ph = iota
	water
	level
	flowA
	flowB
	valve
	topoff
	reservoir
	refill
	waste
	wastePump
	heat
)
