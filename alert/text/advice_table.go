package text

import "lentic/collector/aquarium"

func adviceOf(c aquarium.Cause) Advice {
	a, ok := advices[c]
	if !ok {
		a = Advice{First: lookFirst}
	}
	// The cautions are many callers' at once, so each gets its own.
	a.Then = append([]string(nil), a.Then...)
	a.Cautions = append([]string(nil), a.Cautions...)
	return a
}

// steps is an advice; every one ends with who decides.
func steps(first string, cautions []string, then ...string) Advice {
	return Advice{First: first, Then: then, Cautions: append(append([]string(nil), cautions...), cautionTrade)}
}

var (
	gas      = []string{cautionGas, cautionCylinder, cautionAnimals}
	wet      = []string{cautionMains, cautionFloor, cautionBackflow}
	electric = []string{cautionMains, cautionAnimals}
	life     = []string{cautionAnimals}
)

var advices = map[aquarium.Cause]Advice{
	aquarium.CO2Overshoot: steps("Shut the valve on the CO2 cylinder by hand.", gas,
		"See that pH rises again within half an hour; if not, it was not the gas alone.",
		"If fish gasp, move the surface: turn a filter outlet up or hang in an air stone.",
		"Change no water in haste; if you must, a small part at tank temperature.",
		"Leave the gas shut until valve, controller and pH probe have been checked."),
	aquarium.CO2ValveStuck: steps("Shut the valve on the CO2 cylinder by hand.", gas,
		"Do not trust the solenoid valve: it was told to shut, and gas still flows.",
		"If fish gasp, move the surface: turn a filter outlet up or hang in an air stone.",
		"Have the valve replaced before the cylinder is opened again."),
	aquarium.CO2NotDosing: steps("Read the gauge of the CO2 cylinder.", []string{cautionGas, cautionCylinder},
		"Empty: close it and have it exchanged.",
		"Not empty: look at hand valve, bubble counter and the line for a kink.",
		"Do not open the needle valve further to force it: what is blocked may come free at once."),
	aquarium.PHFalling: steps("Shut the valve on the CO2 cylinder by hand, if there is one.", gas,
		"See whether pH stops falling within half an hour.",
		"If it falls on, test pH by a second meter and KH by hand."),
	aquarium.PHHigh: steps("Test pH by a second meter and KH by hand.", life,
		"Look whether CO2 is used up or shut.",
		"Do not pour in anything to lower pH."),
	aquarium.PHLow: steps("Shut the valve on the CO2 cylinder by hand, if there is one.", gas,
		"Test pH by a second meter and KH by hand: low KH lets pH drop.",
		"Do not pour in anything to raise pH at once."),
	aquarium.PHProbeDrift: steps("Test KH by hand and pH by a second meter.", life,
		"Note the KH in lentic, so that the CO2 estimate counts with it.",
		"Clean and calibrate the probe; replace it if it no longer holds.",
		"Until then do not trust what dosing makes of that pH."),
	aquarium.TopOffRunaway: steps("Take the top-off pump's plug out, with dry hands.", append(append([]string(nil), wet...), cautionAnimals),
		"If the socket is wet, leave it and cut the circuit where it is dry.",
		"Look at the level sensor: has it slipped, fouled, or is its float stuck?",
		"Salts and CO2 were thinned: check KH before dosing goes on."),
	aquarium.TopOffFailed: steps("Look whether the pump runs and the stored water reaches it.", []string{cautionMains, cautionBackflow},
		"Heater and intake must stay under water: switch the heater off if the level nears it.",
		"Top up by hand with RO water, slowly."),
	aquarium.WaterLoss: steps("Look where the water goes, and touch nothing electrical that is wet.", wet,
		"Hoses and filter first: shut their taps if you reach them dry.",
		"Keep pumps from running dry and the heater under water.",
		"Warn whoever is below."),
	aquarium.WaterChangeIncomplete: steps("Stop the change at its controller.", []string{cautionMains, cautionBackflow, cautionAnimals},
		"Heater off if it is not fully under water.",
		"Refill by hand, slowly, with water of the tank's temperature."),
	aquarium.FilterStalled: steps("Take the filter's plug out for ten seconds and put it in again.", electric,
		"If it has stood for hours, do not send what is in it into the tank: clean it first.",
		"Listen for air: rock it gently, see that hoses and taps are open.",
		"Does another filter run? If not, move the surface until one does."),
	aquarium.FilterClogging: steps("Plan its cleaning before the day named.", electric,
		"Bring hose brush and seals; note the flow after cleaning."),
	aquarium.ReservoirLow: steps("See whether the RO unit runs and its tap is open.", []string{cautionBackflow},
		"Change no water from the store until it has come back."),
	aquarium.ReservoirNotRefilling: steps("See whether the feed tap of the RO unit is open.", []string{cautionBackflow},
		"Look at feed pressure, prefilter and the shut-off float.",
		"Cold feed water makes an RO unit slower; that alone is no fault."),
	aquarium.ReservoirOverfull: steps("Shut the feed tap of the RO unit.", wet,
		"Look at the shut-off float.", "Leave the tap shut until somebody has seen it close by itself."),
	aquarium.DrainOverflow: steps("Shut the feed tap of the RO unit, so that no more waste comes.", wet,
		"Empty the container by hand into a drain.", "Look at its pump: plug, float, outlet hose."),
	aquarium.DrainPumpFailed: steps("Shut the feed tap of the RO unit, so that no more waste comes.", wet,
		"Look at the pump: plug, intake, outlet hose.", "Empty the container by hand."),
	aquarium.TemperatureHigh: steps("Take the heater's plug out, with dry hands.", electric,
		"Move the surface and open the cover: warm water holds less oxygen.",
		"Lights off. No ice into the tank."),
	aquarium.TemperatureLow: steps("See whether the heater has power and its lamp is on.", electric,
		"Keep cover and doors closed. No hot water into the tank.",
		"Warm it again slowly."),
	aquarium.HeaterStuckOn: steps("Take the heater's plug out, with dry hands.", electric,
		"Leave it out until it has been replaced; the water cools slowly.",
		"Move the surface: warm water holds less oxygen."),
	aquarium.HeaterNotHeating: steps("See whether the heater has power.", electric,
		"Unplug a heater and let it cool before it is taken out of the water."),
	aquarium.CoolingNotCooling: steps("See whether the cooler runs and its air path is free.", electric,
		"Move the surface and open the cover. Lights off."),
	aquarium.LightsNotOn: steps("Look at the lights' timer and plug.", electric,
		"A day without light harms no plant; CO2 dosing should pause with it."),
	aquarium.LightsStuckOn: steps("Switch the lights off by hand.", electric,
		"Look at the timer: its clock, its override."),
	aquarium.DoserNotDosing: steps("Look at the doser's bottle and line. Make up no missed dose.", life,
		"Let it go on with its next dose."),
	aquarium.PowerLost: steps("Ask the people there whether the power is out.", []string{cautionGas, cautionMains, cautionAnimals},
		"Nobody should open the CO2 by hand meanwhile.",
		"A filter that has stood for hours is cleaned before it runs again.",
		"A battery air pump carries a tank through."),
	aquarium.TankPowerLost: steps("Ask somebody to look at the tank's plug and breaker.", electric,
		"A breaker that trips again stays off: call an electrician.",
		"A battery air pump carries a tank through."),
	aquarium.FloorWet: steps("Keep people off the wet floor.", wet,
		"Cut the power of what stands in it, only from dry ground.",
		"Stop what brings water: top-off pump, RO feed tap, filter taps.",
		"Warn whoever is below."),
	aquarium.RoomCO2High: steps("Everybody out, doors and windows open. Do not go back in for the cylinder.", []string{cautionGas, cautionCylinder},
		"Tell the people who run the place; they decide on calling the fire brigade.",
		"The cylinder is shut only by somebody who can do it in clean air."),
	aquarium.SensorSilent: steps("Look at the sensor's cable and its gateway's power.", []string{cautionMains},
		"Until it is back, nothing it would show is seen: look at the tank itself."),
	aquarium.SensorStuck: steps("Look at the probe: fouled, dry, out of the water?", []string{cautionMains},
		"Do not let a machine dose or heat by it meanwhile."),
	aquarium.SensorImplausible: steps("Look at the probe: fouled, dry, out of the water?", []string{cautionMains},
		"Do not let a machine dose or heat by it meanwhile."),
	aquarium.SiteSilent: steps("Ask the people there: is the power on, does the network run, how do the tanks look?", life,
		"Restart the router, then the gateway."),
	aquarium.GatewayClockWrong: steps("Set the gateway's clock.", nil,
		"Then release the readings that were set aside, with one offset: lentic release."),
	aquarium.UnitSuspect: steps("Compare the sensor's unit in the configuration with what the device sends.", nil,
		"Nothing measured is lost: readings are kept as received."),
	aquarium.Unusual: steps("Have somebody look at the tank.", life,
		"Look at the strips together: what moved first?"),
	aquarium.VisitUndeclared: steps("Ask who is at the tank, and declare the visit.", []string{cautionMains},
		"If nobody is, look at the tank: do the filters run, and does the socket that feeds them have power?"),
	aquarium.DiskLow: steps("Free space on the machine that lentic runs on.", nil,
		"Readings are refused to their gateways, not dropped, once nothing can be stored."),
	aquarium.IntakeLost: steps("Look at the broker and at the network between.", nil,
		"While no reading comes in, nothing is seen: ask the sites how the tanks look."),
	aquarium.ConfigurationRefused: steps("Run lentic check on the file; it names every mistake.", nil,
		"The last accepted configuration goes on meanwhile."),
	aquarium.NobodyReached: steps("Send yourself a text: lentic test-text.", nil,
		"Look at the provider's account and at what it answered, on the page of texts.",
		"Until it is mended, alarms reach nobody: watch the page."),
}
