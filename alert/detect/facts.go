package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Names of the facts in an alarm's evidence.
const (
	FactTarget  = "target"  // what the controller holds, in the evidence's unit
	FactCO2     = "co2"     // estimated dissolved CO2, mg/l
	FactKH      = "kh"      // alkalinity the estimate rests on, dKH
	FactValve   = "valve"   // word: open, shut, pulses or unknown; as commanded
	FactShut    = "shut"    // how long the valve has been commanded shut, min
	FactOver    = "over"    // how long it should have been shut where nobody tells, min
	FactBound   = "bound"   // the most CO2 the keeper allows, mg/l
	FactFell    = "fell"    // how far the pH fell within five minutes
	FactNormal  = "normal"  // the filter's flow when all is well, l/h
	FactOthers  = "others"  // word: running or stalled, the tank's other filters
	FactMains   = "mains"   // how long mains has been back, min
	FactPump    = "pump"    // word: on, off or unknown; as commanded
	FactRun     = "run"     // how long the pump has run, min
	FactAdded   = "added"   // what it brought meanwhile at its rate, l
	FactNeed    = "need"    // how long it should have needed, min
	FactFor     = "for"     // how long it has been so, min
	FactSilent  = "silent"  // how long nothing has been heard, min
	FactHeard   = "heard"   // how long ago anything was, min
	FactSensors = "sensors" // how many sensors
	FactAssumed = "assumed" // word: what was assumed for want of a sensor
	FactPH      = "ph"      // the pH an estimate rests on
	FactSince   = "since"   // how long since its last cleaning, d
	FactSwitch  = "switch"  // word: on, off or unknown; as commanded
	FactHeater  = "heater"  // word: on or off; as commanded
	FactHours   = "hours"   // word: from when to when
	FactDosed   = "dosed"   // on how many of the last seven days, of those that were seen
	FactRoom    = "room"    // the air's temperature, Cel
	FactUsual   = "usual"   // how long the usual pause takes, min
	FactUsualAt = "pauses"  // word: when the usual pause begins
	FactSigns   = "signs"   // word: what hands have done
	FactUnder   = "under"   // how far the pH lies under its target
	FactGain    = "gain"    // how fast CO2 rises, mg/l an hour
	FactAsked   = "asked"   // how long dosing has been called for, min
	FactLeft    = "left"    // what is left of something, in its unit
	FactMoved   = "moved"   // how far the value has moved meanwhile, in its unit
	FactLongest = "longest" // for how long it usually stands still at the most, min
	FactSent    = "sent"    // word: the unit a device seems to send
	FactShift   = "shift"   // how far the electrode seems to read too high, pH
	FactGas     = "gas"     // how fast gas seems to come, of what is usual, %
	FactHeld    = "held"    // how fast the gas seems to come that holds the pH, of what is usual, %
	FactNight   = "night"   // how far the night's pH lies over what is usual, pH
	FactOpen    = "open"    // how much of the day the valve is open while it holds the pH, %
	FactBefore  = "before"  // how much it usually is, %
	FactDoubt   = "doubt"   // word: what nobody can tell apart from here
	FactApart   = "apart"   // word: a sensor; and how far it is from what the others let expect, in its unit
	FactSteps   = "steps"   // word: a switch; and by how much the sensor steps when it is turned on, in its unit
	FactLate    = "late"    // how late an electrode follows the water, min
	FactTold    = "told"    // how bad it was when it was last told, on the cause's own measure: for a watch that begins anew
)

func num(name string, v float64, u aquarium.Unit) aquarium.Fact {
	return aquarium.Fact{Name: name, Value: v, Unit: u}
}

// lasting is a fact about a length of time.
func lasting(name string, d time.Duration) aquarium.Fact { return num(name, d.Minutes(), "min") }

func word(name, w string) aquarium.Fact { return aquarium.Fact{Name: name, Word: w} }

// stateWord is how a switch's state is called: unknown where nobody tells.
func stateWord(on, known bool, is, isNot string) string {
	switch {
	case !known:
		return "unknown"
	case on:
		return is
	}
	return isNot
}
