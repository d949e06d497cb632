package sim

import "slices"

// traits is what a fault needs to be planned, and what it does while it lasts.
type traits struct {
	strength float64 // default; 0: has none, or takes the tank's own
	filter   bool    // needs a filter in Equipment
	sensor   bool    // needs a Sensor
	signed   bool    // Strength may be negative
	once     bool    // done at At, and then it is done
	does     func(t *Tank, p Planned, strength float64)
}

// flags makes the effect of a fault that is there or not.
func flags(flag func(*trouble) *bool) func(*Tank, Planned, float64) {
	return func(t *Tank, _ Planned, _ float64) { *flag(&t.trouble) = true }
}

// sets makes the effect of a fault that is as strong as it is.
func sets(field func(*trouble) *float64) func(*Tank, Planned, float64) {
	return func(t *Tank, _ Planned, x float64) { *field(&t.trouble) = x }
}

// adds makes the effect of a fault that comes on top.
func adds(field func(*trouble) *float64) func(*Tank, Planned, float64) {
	return func(t *Tank, _ Planned, x float64) { *field(&t.trouble) += x }
}

// faults is every fault there is.
var faults = map[Fault]traits{
	CO2StuckOpen:     {strength: 2, does: sets(func(s *trouble) *float64 { return &s.stuckOpen })},
	CO2CommandedOpen: {strength: 1, does: sets(func(s *trouble) *float64 { return &s.commandedOpen })},
	CO2Leak:          {strength: 0.6, does: sets(func(s *trouble) *float64 { return &s.valveLeaks })},
	CO2Surge: {strength: 12, does: func(t *Tank, p Planned, x float64) {
		t.trouble.surge, t.trouble.surgeFrom = x, p.At
	}},
	CO2CylinderEmpty: {does: flags(func(s *trouble) *bool { return &s.cylinderEmpty })},
	CO2ShutByHand:    {does: flags(func(s *trouble) *bool { return &s.gasShut })},
	CO2LineBlocked: {strength: 0.3, does: func(t *Tank, p Planned, x float64) {
		t.trouble.blockedPerDay, t.trouble.blockedFrom = x, p.At
	}},
	RoomCO2: {strength: 6000, does: adds(func(s *trouble) *float64 { return &s.roomPPM })},
	KHCrash: {strength: 0.5, does: adds(func(s *trouble) *float64 { return &s.khPerDay })},

	TopOffRunaway: {does: func(t *Tank, _ Planned, x float64) {
		t.trouble.runaway, t.trouble.runawayLH = true, x
	}},
	TopOffSiphon:      {strength: 12, does: sets(func(s *trouble) *float64 { return &s.siphonLH })},
	TopOffDead:        {does: flags(func(s *trouble) *bool { return &s.topOffDead })},
	TopOffWeak:        {strength: 0.02, does: sets(func(s *trouble) *float64 { return &s.topOffShare })},
	TopOffOff:         {does: flags(func(s *trouble) *bool { return &s.topOffOff })},
	Leak:              {strength: 4, does: sets(func(s *trouble) *float64 { return &s.leakLH })},
	FloorWet:          {does: flags(func(s *trouble) *bool { return &s.wet })},
	ChangeStopped:     {does: flags(func(s *trouble) *bool { return &s.changeStopped })},
	RefillDead:        {does: flags(func(s *trouble) *bool { return &s.refillDead })},
	RefillSlow:        {strength: 0.6, does: sets(func(s *trouble) *float64 { return &s.refillShare })},
	RefillRunaway:     {does: flags(func(s *trouble) *bool { return &s.refillOn })},
	RefillUncommanded: {strength: 1, does: sets(func(s *trouble) *float64 { return &s.refillShut })},
	ReservoirLeak:     {strength: 5, does: sets(func(s *trouble) *float64 { return &s.reservoirLH })},
	DrainPumpDead:     {does: flags(func(s *trouble) *bool { return &s.drainDead })},
	DrainInflow:       {strength: 1200, does: sets(func(s *trouble) *float64 { return &s.drainLH })},

	FilterStall:              {filter: true, does: stall},
	FilterStallAfterPowerCut: {filter: true, does: darken},
	FilterBlocked: {strength: 0.1, filter: true, does: func(t *Tank, p Planned, x float64) {
		t.filters[filterIndex(t.tank, p.Equipment)].left = x
	}},
	FilterClog: {strength: 0.08, filter: true, does: func(t *Tank, p Planned, x float64) {
		t.filters[filterIndex(t.tank, p.Equipment)].faultPerDay += x
	}},
	BurstHose: {strength: 300, filter: true, does: func(t *Tank, p Planned, x float64) {
		stall(t, p, x)
		t.trouble.burstLH = x
	}},

	PowerCut:           {does: darken},
	TankPowerCut:       {does: flags(func(s *trouble) *bool { return &s.dark })},
	HeaterStuckOn:      {strength: 1, does: func(t *Tank, _ Planned, x float64) { t.trouble.heaterOn, t.trouble.heaterShare = true, x }},
	HeaterStuckOff:     {does: flags(func(s *trouble) *bool { return &s.heaterOff })},
	HeaterCommandedOn:  {does: flags(func(s *trouble) *bool { return &s.heatOn })},
	HeaterCommandedOff: {does: flags(func(s *trouble) *bool { return &s.heatOff })},
	HeaterWeak:         {strength: 0.3, does: sets(func(s *trouble) *float64 { return &s.heaterShare })},
	CoolingStuckOff:    {does: flags(func(s *trouble) *bool { return &s.coolingOff })},
	RoomTemperature:    {strength: 10, signed: true, does: adds(func(s *trouble) *float64 { return &s.roomK })},
	Draught:            {strength: 1.1, does: sets(func(s *trouble) *float64 { return &s.draught })},
	LightsStuckOn:      {does: flags(func(s *trouble) *bool { return &s.lightsOn })},
	LightsStuckOff:     {does: flags(func(s *trouble) *bool { return &s.lightsOff })},
	DoserDead: {does: func(t *Tank, p Planned, _ float64) {
		t.dosers[doserIndex(t.tank, p.Equipment)].dead = true
	}},

	PHDrift: {strength: -0.03, signed: true, does: func(t *Tank, _ Planned, x float64) {
		t.trouble.drift += x
		t.trouble.drifting = true
	}},
	PHOffset:    {strength: 0.3, signed: true, does: adds(func(s *trouble) *float64 { return &s.phOffset })},
	PHSlow:      {strength: 20, does: sets(func(s *trouble) *float64 { return &s.phLag })},
	PHShorted:   {does: flags(func(s *trouble) *bool { return &s.phShorted })},
	PHUnplugged: {does: flags(func(s *trouble) *bool { return &s.phOpen })},
	PHInAir:     {does: inAir},
	PHGround:    {strength: 0.3, signed: true, does: adds(func(s *trouble) *float64 { return &s.phGround })},

	SensorSilent: {does: func(t *Tank, p Planned, _ float64) {
		if p.Sensor == "" {
			t.trouble.allSilent = true
			return
		}
		t.probe(p).silent = true
	}},
	SensorFrozen: {sensor: true, does: func(t *Tank, p Planned, _ float64) { t.probe(p).frozen = true }},
	SensorSpikes: {strength: 0.05, sensor: true, does: func(t *Tank, p Planned, x float64) { t.probe(p).wild = x }},
	WrongUnit:    {sensor: true, does: func(t *Tank, p Planned, _ float64) { t.probe(p).wrongUnit = true }},
	LevelStuck:   {does: flags(func(s *trouble) *bool { return &s.levelStuck })},
	LevelSlipped: {strength: 12, signed: true, does: adds(func(s *trouble) *float64 { return &s.levelSlipped })},

	FiltersOff: {does: func(t *Tank, p Planned, _ float64) {
		for i := range t.filters {
			if p.Equipment == "" || i == filterIndex(t.tank, p.Equipment) {
				t.filters[i].off = true
			}
		}
	}},
	FilterCleaned: {filter: true, once: true, does: func(t *Tank, p Planned, _ float64) {
		f := &t.filters[filterIndex(t.tank, p.Equipment)]
		f.clean, f.faulty = 1, 0
	}},
	CO2Off:      {does: flags(func(s *trouble) *bool { return &s.co2Off })},
	HeaterOff:   {does: flags(func(s *trouble) *bool { return &s.heatUnplugs })},
	WaterOut:    {strength: 600, does: sets(func(s *trouble) *float64 { return &s.outLH })},
	WaterIn:     {strength: 600, does: sets(func(s *trouble) *float64 { return &s.inLH })},
	WaterPoured: {strength: 600, does: sets(func(s *trouble) *float64 { return &s.pourLH })},
	StoreUsed:   {strength: 200, does: sets(func(s *trouble) *float64 { return &s.usedLH })},
	KHRestored:  {once: true, does: func(t *Tank, _ Planned, _ float64) { t.carbon.alkalinity = t.suppliedMeq() * t.vessel.litres }},
	CylinderExchanged: {once: true, does: func(t *Tank, _ Planned, _ float64) {
		if t.carbon.cylinderKG < scarceKG {
			t.carbon.cylinderKG = fullKG
		}
	}},
	ProbeInBuffer: {strength: 7, does: func(t *Tank, _ Planned, x float64) { t.trouble.medium = medium{buffer: x} }},
	ProbeInAir:    {does: inAir},
	Calibrated:    {signed: true, once: true, does: func(t *Tank, _ Planned, x float64) { t.carbon.offset, t.carbon.aged = 0, x }},
	Waves:         {strength: 4, does: sets(func(s *trouble) *float64 { return &s.wavesMM })},
	Trimmed:       {strength: 0.7, once: true, does: func(t *Tank, _ Planned, x float64) { t.carbon.trim(x) }},
}

func stall(t *Tank, p Planned, _ float64) {
	t.filters[filterIndex(t.tank, p.Equipment)].stalled = true
}

func darken(t *Tank, _ Planned, _ float64) { t.trouble.dark, t.trouble.siteDark = true, true }

func inAir(t *Tank, _ Planned, _ float64) { t.trouble.medium = medium{air: true} }

// probe is the planned fault's sensor, which Check has found.
func (t *Tank) probe(p Planned) *probe {
	i := slices.IndexFunc(t.probes, func(q probe) bool { return q.sensor.ID == p.Sensor })
	return &t.probes[i]
}
