package sim

// What people do at a tank: a visit is made of these, and a plan may hold them
// too.
const (
	// FiltersOff: the filter in Equipment is switched off; all of them where
	// that is empty.
	FiltersOff Fault = "filters-off"
	// FilterCleaned: the filter in Equipment is cleaned at At.
	FilterCleaned Fault = "filter-cleaned"
	// CO2Off and HeaterOff: unplugged, and their switches say so.
	CO2Off    Fault = "co2-off"
	HeaterOff Fault = "heater-off"
	// WaterOut: water is taken out. Strength: l/h; default 600.
	WaterOut Fault = "water-out"
	// WaterIn: new water is let in up to the working mark. Strength: l/h;
	// default 600. It has the tank's own alkalinity, and a temperature of
	// its own.
	WaterIn Fault = "water-in"
	// WaterPoured: as WaterIn, without looking at the mark.
	WaterPoured Fault = "water-poured"
	// StoreUsed: stored water is taken for another purpose. Strength: l/h;
	// default 200.
	StoreUsed Fault = "store-used"
	// KHRestored: alkalinity is brought back to the configured one at At.
	KHRestored Fault = "kh-restored"
	// CylinderExchanged: a CO2 cylinder that would not last until the next
	// service is exchanged for a full one at At.
	CylinderExchanged Fault = "cylinder-exchanged"
	// ProbeInBuffer: the pH electrode stands in a buffer. Strength: its pH;
	// default 7.
	ProbeInBuffer Fault = "probe-in-buffer"
	// ProbeInAir: it is held in the air between.
	ProbeInAir Fault = "probe-in-air"
	// Calibrated: it is calibrated at At, and what it had drifted is gone
	// but for Strength: pH, of either sign.
	Calibrated Fault = "calibrated"
	// Waves: hands in the water. Strength: mm; default 4.
	Waves Fault = "waves"
	// Trimmed: plants are cut at At. Strength: the share that stays;
	// default 0.7.
	Trimmed Fault = "trimmed"
)
