package sim

import (
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// Truth is how the tank really is, which its probes may not tell.
type Truth struct {
	PH, CO2, KH float64 // pH, mg/l, dKH
	PHShown     float64 // what the electrode has the controller believe
	Temperature float64 // Cel
	Room        float64 // Cel
	LevelMM     float64 // from the working mark
	Litres      float64 // in the tank
	ReservoirL  float64
	WasteMM     float64 // above the container's bottom
	Water       Account // since Start

	// What the machines are told, and what they do.
	ValveOpen bool    // commanded
	Gas       float64 // times the normal flow that reaches the water
	Topping   bool    // commanded
	Refilling bool    // commanded
	MadeLH    float64 // what the reservoir gains
	NormalLH  float64 // what it would make at the feed's temperature
	Draining  bool    // commanded
	Heating   bool    // commanded
	Cooling   bool    // commanded
	Lit       bool
	Dark      bool // no mains at the tank
	Changing  bool // an automatic change of water is under way
	// ChangeStopped is when an automatic change was last left half-way.
	ChangeStopped aquarium.Instant
}

// Truth is how the tank is at the present instant.
func (t *Tank) Truth() Truth {
	return Truth{
		PH: t.carbon.ph, CO2: t.carbon.co2, KH: float64(water.MeqPerL(t.alkalinityPerL()).DegreeKH()), PHShown: t.measuredPH(),
		Temperature: t.heat.temperature, Room: t.room.temperature, LevelMM: t.vessel.levelMM(), Litres: t.vessel.litres,
		ReservoirL: t.reservoir.litres, WasteMM: t.waste.mm, Water: t.vessel.account,
		ValveOpen: t.carbon.open, Gas: t.carbon.passes, Topping: t.vessel.topping,
		Refilling: t.reservoir.refilling, MadeLH: t.reservoir.made / stepHours, NormalLH: t.reservoir.normal,
		Draining: t.waste.pumping, Heating: t.heat.heating, Cooling: t.heat.cool, Lit: t.lit(), Dark: t.trouble.dark,
		Changing:      t.change.stage != idle,
		ChangeStopped: t.change.stopped,
	}
}

// FilterTruth is how a filter really is.
type FilterTruth struct {
	Flow  float64 // l/h now
	Share float64 // of its flow when clean that it would have with nothing but its clogging
}

// Filter is the truth of the filter of that id, the zero value where there is
// none.
func (t *Tank) Filter(id aquarium.EquipmentKey) FilterTruth {
	i := filterIndex(t.tank, id)
	if i < 0 {
		return FilterTruth{}
	}
	f := t.filters[i]
	return FilterTruth{Flow: f.flow, Share: f.clean * (1 - f.faulty)}
}
