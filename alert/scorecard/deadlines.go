package main

import (
	"math"
	"time"

	"lentic/collector/aquarium"
)

const (
	minute = time.Minute
	hour   = time.Hour
	day    = 24 * time.Hour
)

// By when each trouble must be told: so long after the words have come true of
// the tank itself, or two reporting intervals after, whichever is longer. The
// first of several counts.

// The promised ones.
var (
	overshoot = deadline{
		{"pH passes 0.2 under its target", when(func(m moment) bool { return m.truth.PH < m.config.Equipment.CO2.Target-0.2 }), 10 * minute},
		{"CO2 passes the tank's bound", when(func(m moment) bool { return m.config.Limits.CO2 > 0 && m.truth.CO2 > m.config.Limits.CO2 }), 10 * minute},
		{"told shut for 20 min while pH keeps falling", fallsThoughShut, 0},
	}
	drift = deadline{
		{"the electrode's error is 0.2 pH", when(func(m moment) bool { return math.Abs(m.truth.PHShown-m.truth.PH) >= 0.2 }), 0},
	}
	notDosing = deadline{
		{"60 min of asked-for dosing without an answer", adding(hour, func(m moment) bool { return m.truth.ValveOpen && m.truth.Gas < 0.1 }), 0},
	}
	runaway = deadline{
		{"the level passes its band", when(func(m moment) bool { return m.truth.LevelMM > m.config.Equipment.TopOff.BandMM }), 3 * minute},
		{"the pump has run twice what the deficit needs", ranTwice, 0},
	}
	siphon = deadline{
		{"water has come in for 10 min with the pump off", lasting(10*minute, func(m moment) bool { return !m.truth.Topping }), 0},
	}
	fastLoss = deadline{{"20 l/h or more are lost", always, 20 * minute}}
	slowLoss = deadline{
		{"1 l/h is lost", always, 12 * hour},
		{"what 1 l/h loses in 12 h is lost", when(func(m moment) bool { return m.truth.Water.Leaked >= 12 }), 0}, // at 2 or 4 l/h
	}
	topOffFailed = deadline{
		// A refill takes from one end of the band to the other; a sensor of
		// whole millimetres shows half of one late.
		// What is below it by a change of water is below it on purpose.
		{"the level has been below its band twice as long as a refill takes, but for a change of water", lasting(10*minute, func(m moment) bool {
			return m.truth.LevelMM < -m.config.Equipment.TopOff.BandMM-0.5 && !m.truth.Changing
		}), 0},
	}
	// While another filter turns; where all are stopped see allStopped.
	// Where it begins in a stop for feeding, that is given five minutes to end: two more
	// than what stops at another time has.
	stalled = deadline{
		{"the flow is gone while another filter turns", when(func(m moment) bool {
			stop := m.config.Equipment.Filters[0].Stops[0]
			feeding := m.clock() >= stop.At && m.clock() < stop.At+aquarium.Clock((stop.For+2*minute)/minute)
			return still(m, "a") && !still(m, "b") && !m.truth.Dark && !feeding
		}), 3 * minute},
	}
	stalledAfterCut = deadline{
		{"mains is back", when(func(m moment) bool { return !m.truth.Dark && m.since() > minute }), 5 * minute},
	}
	stalledAfterStop = deadline{
		{"the stop for feeding should have ended", when(func(m moment) bool { return m.clock() >= 12*60+40 && still(m, "a") }), 5 * minute},
	}
	clogging = deadline{
		{"a third of the flow after its last cleaning is gone", when(func(m moment) bool { return m.tank.Filter("a").Share <= 2.0/3 }), 0},
	}
	notRefilling = deadline{
		{"refilling has taken twice the expected time", refilledTwice, 0},
	}
	slowProduction = deadline{
		{"a quarter less than normal for its temperature is made, and the store should long be full", refilledFor(1.25), 30 * minute},
	}
	overfull = deadline{
		{"the store is past full", when(func(m moment) bool { return m.truth.ReservoirL > m.config.Equipment.Reservoir.CapacityL }), 10 * minute},
	}
	drainNear = deadline{
		{"5 min are left to the rim", nearsRim(5 * minute), 0},
	}
	drainFailed = deadline{
		{"the pump is told to run and the level stays", when(func(m moment) bool { return m.truth.Draining }), 3 * minute},
	}
	tooWarm = deadline{
		{"the water is 1.5 over its target", when(func(m moment) bool { return m.truth.Temperature >= m.config.Equipment.Heater.Target+1.5 }), 0},
	}
	tooCold = deadline{
		{"the water is 1.5 under its target", when(func(m moment) bool { return m.truth.Temperature <= m.config.Equipment.Heater.Target-1.5 }), 0},
	}
	implausible = deadline{{"30 min of dosing by a probe that tells nothing", adding(30*minute, func(m moment) bool { return m.truth.ValveOpen }), 0}}
	frozen      = deadline{{"the value has stood still", always, 2 * hour}}
	silent10    = deadline{{"ten intervals of 10 s, at least 10 min", always, 10 * minute}} // 60 s readings: the same 10 min
	siteQuiet   = deadline{{"nothing has come from the site", always, 20 * minute}}
)

// Those of our own, each with its reason.
var (
	// A hard alkalinity crash moves the pH that belongs to a CO2 as an
	// electrode's error does: by the time that is 0.2 pH.
	alkalinityGone = deadline{
		{"the alkalinity has fallen to 63 %, as good as 0.2 pH", when(func(m moment) bool { return m.truth.KH < 0.63*m.config.AlkalinityDKH }), 0},
	}
	// A bad calibration is an error at once; a day shows it a night, a
	// morning ramp and a dosing day.
	badlyCalibrated = deadline{{"the electrode is off", always, day + 12*hour}}
	// Nobody falls ill of a slow electrode in a week, and its cure is a
	// cleaning at the next visit.
	slowElectrode = deadline{{"the electrode is slow", always, 7 * day}}
	// A stray current is found with a meter at the next visit; a day holds
	// some twenty steps of the heater.
	stray = deadline{{"a current moves the electrode", always, day}}
	// Out of the water as good as shorted, once dosing is asked for.
	outOfWater = deadline{{"an hour of dosing by a probe in air", adding(hour, func(m moment) bool { return m.truth.ValveOpen }), 0}}
	// Heat is lost, and cooling's own target may be a degree and a half off
	// as a heater's may.
	notCooled = deadline{
		{"the water is 1.5 over the cooling's target", when(func(m moment) bool { return m.truth.Temperature >= m.config.Equipment.Cooling.Target+1.5 }), 0},
	}
	// A timer is ten minutes off and nobody minds; half an hour is a fault.
	lightsWrong = deadline{
		{"the lights have been against their times for half an hour", lasting(30*minute, func(m moment) bool { return m.truth.Lit != m.config.Lights.Contains(m.clock()) }), 0},
	}
	// A dose left out is given by hand the same day.
	notDosed = deadline{{"three hours after the dose is usually given", when(func(m moment) bool { return m.clock() >= 12*60+3 }), 0}}
	// Everything else follows from it: three minutes rule out a switch-over.
	dark = deadline{{"mains is gone", always, 3 * minute}}
	// Water on a floor spreads; two minutes rule out a wet foot.
	wet = deadline{{"the floor is wet", always, 2 * minute}}
	// 5000 ppm is the limit for a working day (8 h) in most countries.
	badAir = deadline{{"the room's CO2 passes 5000 ppm", always, 5 * minute}}
	// The records that are set aside say it themselves.
	wrongClock = deadline{{"times that cannot be right come in", always, 5 * minute}}
	// Found when a sensor is fitted, while somebody is still there.
	wrongUnit = deadline{{"values come in another unit", always, hour}}
	// Half a change is a filter sucking air soon.
	halfChanged = deadline{{"the change has stopped half-way", when(func(m moment) bool { return m.truth.ChangeStopped > m.began }), 15 * minute}}
	// Less is left than a day's top-off and one change.
	storeLow = deadline{{"a tenth of the store is left", when(func(m moment) bool { return m.truth.ReservoirL < 0.1*m.config.Equipment.Reservoir.CapacityL }), 10 * minute}}
	// A float that hangs is shown by nothing but what the air takes meanwhile: by
	// twice the band, whatever is in between to disturb it.
	floatHangs = deadline{{"the air has taken twice the top-off's band, and the float shows none of it", evaporated, 12 * hour}}
	// A slip is as sudden as a loss, and harmless until the next top-off.
	slips = deadline{{"the level sensor has slipped", always, 12 * hour}}
	// A visit that is only guessed at may take water for forty minutes, and hides
	// no more than that; twenty are those of any loss.
	leftBehind = deadline{{"water leaves that no visit takes", when(func(m moment) bool { return m.truth.Water.Leaked > 0 }), hour}}
	// All filters of a tank that stop together are told as soon as any stall: in working hours
	// as somebody there, or a socket. That nobody was there is told once whoever feeds or
	// changes water would have shown himself: a quarter of the hour that a tank bears without
	// flow.
	allStopped  = deadline{{"no filter turns", when(noneTurns), 3 * minute}}
	nobodyThere = deadline{{"no filter turns", when(noneTurns), 15 * minute}}
	// A visit is known by its signature once water leaves.
	unannounced = deadline{{"filters off and water leaving", when(func(m moment) bool { return m.truth.LevelMM < -20 }), 15 * minute}}
)

// evaporated: twice the band, since it began.
func evaporated() func(moment) bool {
	from := -1.0
	return func(m moment) bool {
		if from < 0 {
			from = m.truth.Water.Evaporated
		}
		return (m.truth.Water.Evaporated-from)/m.config.Size.LitresPerMM() >= 2*m.config.Equipment.TopOff.BandMM
	}
}

func always() func(moment) bool { return func(moment) bool { return true } }

func still(m moment, id aquarium.EquipmentKey) bool {
	for _, f := range m.config.Equipment.Filters {
		if f.ID == id {
			return m.tank.Filter(id).Flow < 0.2*f.RatedLH
		}
	}
	return false
}

func noneTurns(m moment) bool { return still(m, "a") && still(m, "b") && !m.truth.Dark }

// fallsThoughShut: by more than the gas still under way explains, 0.02 pH in
// the last five minutes and 0.06 in all. Where nobody sees what the valve is told,
// a pH within the band of a controller in its hours may be falling because it is
// open: that it has been told to shut is known once the pH is under the band.
func fallsThoughShut() func(moment) bool {
	var shut aquarium.Instant
	var ph [21]float64 // by the minute
	return func(m moment) bool {
		co2 := m.config.Equipment.CO2
		within := co2.Hours == nil || co2.Hours.Contains(m.clock())
		if m.truth.ValveOpen || !m.told && within && m.truth.PHShown > co2.Target-co2.Band {
			shut = 0
			return false
		}
		if shut == 0 {
			shut = m.at
		}
		n := m.at.Sub(shut)
		if n%minute == 0 {
			copy(ph[1:], ph[:])
			ph[0] = m.truth.PH
		}
		return n >= 20*minute && ph[20]-ph[0] > 0.06 && ph[5]-ph[0] > 0.02
	}
}

// ranTwice: a deficit of less than two millimetres is none that a sensor of whole
// ones can tell; and where nobody sees what the pump is told, nobody knows how long
// it has run.
func ranTwice() func(moment) bool {
	var from aquarium.Instant
	litres := 0.0
	return func(m moment) bool {
		e := m.config.Equipment.TopOff
		if !m.truth.Topping || !m.told {
			from = 0
			return false
		}
		if from == 0 {
			from, litres = m.at, max(2, e.BandMM-m.truth.LevelMM)*m.config.Size.LitresPerMM()
		}
		return m.at.Sub(from).Hours() > 2*litres/e.RateLH
	}
}

var refilledTwice = refilledFor(2)

// refilledFor: the store has been filling, by its command, so many times longer
// than what was missing, and what the top-off took meanwhile, takes; from when nobody
// takes water out by the bucket.
func refilledFor(times float64) words {
	return func() func(moment) bool {
		var from aquarium.Instant
		expected, before := 0.0, 0.0 // h, l
		return func(m moment) bool {
			used := m.truth.ReservoirL < before-0.3 // in a step, 108 l/h
			before = m.truth.ReservoirL
			if !m.truth.Refilling || used {
				from = 0
				return false
			}
			if from == 0 {
				from, expected = m.at, (m.config.Equipment.Reservoir.CapacityL-m.truth.ReservoirL)/m.truth.NormalLH
			}
			if m.truth.Topping {
				expected += m.config.Equipment.TopOff.RateLH * aquarium.Step.Hours() / m.truth.NormalLH
			}
			return m.at.Sub(from).Hours() > times*expected
		}
	}
}

// nearsRim: at the rate of the last minute, in which the pump neither came nor stopped:
// before it comes a container fills as it should.
func nearsRim(left time.Duration) words {
	return func() func(moment) bool {
		var mm [7]float64
		n, pumping := 0, false
		return func(m moment) bool {
			copy(mm[1:], mm[:])
			mm[0] = m.truth.WasteMM
			if n++; m.truth.Draining != pumping {
				n, pumping = 1, m.truth.Draining
			}
			return n > 6 && mm[0]+(mm[0]-mm[6])*left.Minutes() >= m.config.Equipment.Drain.OverflowMM
		}
	}
}
