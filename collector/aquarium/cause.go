package aquarium

// Cause is what an alarm says has been seen. The names are a promise to people
// and programs outside; add to them, never change one.
type Cause string

const (
	CO2Overshoot          Cause = "co2-overshoot"
	CO2ValveStuck         Cause = "co2-valve-stuck"
	CO2NotDosing          Cause = "co2-not-dosing"
	PHFalling             Cause = "ph-falling"
	PHHigh                Cause = "ph-high"
	PHLow                 Cause = "ph-low"
	PHProbeDrift          Cause = "ph-probe-drift"
	TopOffRunaway         Cause = "top-off-runaway"
	TopOffFailed          Cause = "top-off-failed"
	WaterLoss             Cause = "water-loss"
	WaterChangeIncomplete Cause = "water-change-incomplete"
	FilterStalled         Cause = "filter-stalled"
	FilterClogging        Cause = "filter-clogging"
	ReservoirLow          Cause = "reservoir-low"
	ReservoirNotRefilling Cause = "reservoir-not-refilling"
	ReservoirOverfull     Cause = "reservoir-overfull"
	DrainOverflow         Cause = "drain-overflow"
	DrainPumpFailed       Cause = "drain-pump-failed"
	TemperatureHigh       Cause = "temperature-high"
	TemperatureLow        Cause = "temperature-low"
	HeaterStuckOn         Cause = "heater-stuck-on"
	HeaterNotHeating      Cause = "heater-not-heating"
	CoolingNotCooling     Cause = "cooling-not-cooling"
	LightsNotOn           Cause = "lights-not-on"
	LightsStuckOn         Cause = "lights-stuck-on"
	DoserNotDosing        Cause = "doser-not-dosing"
	PowerLost             Cause = "power-lost"
	TankPowerLost         Cause = "tank-power-lost"
	FloorWet              Cause = "floor-wet"
	RoomCO2High           Cause = "room-co2-high"
	SensorSilent          Cause = "sensor-silent"
	SensorStuck           Cause = "sensor-stuck"
	SensorImplausible     Cause = "sensor-implausible"
	SiteSilent            Cause = "site-silent"
	GatewayClockWrong     Cause = "gateway-clock"
	UnitSuspect           Cause = "unit-suspect"
	Unusual               Cause = "unusual"
	VisitUndeclared       Cause = "visit-undeclared"
	DiskLow               Cause = "disk-low"
	IntakeLost            Cause = "intake-lost"
	ConfigurationRefused  Cause = "configuration-refused"
	NobodyReached         Cause = "nobody-reached"
)

// Priority is how fast somebody must act. The order is that of urgency.
type Priority uint8

const (
	Low Priority = iota + 1
	Medium
	High
)

func (p Priority) String() string {
	switch p {
	case Low:
		return "low"
	case Medium:
		return "medium"
	case High:
		return "high"
	}
	return "none"
}

// MarshalText writes the priority's word.
func (p Priority) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads low, medium or high; anything else becomes 0.
func (p *Priority) UnmarshalText(b []byte) error { *p = PriorityOf(string(b)); return nil }

// PriorityOf is the priority of that word, 0 for any other.
func PriorityOf(s string) Priority {
	for _, p := range []Priority{Low, Medium, High} {
		if p.String() == s {
			return p
		}
	}
	return 0
}

// causes lists every cause with its default priority, in the order of the manual,
// and whether a declared visit takes it out of service: then a keeper's hands
// are the likelier reason. What endangers people or fish within the hour stays
// in service even then.
var causes = []struct {
	cause    Cause
	priority Priority
	visit    bool
}{
	{CO2Overshoot, High, false},
	{CO2ValveStuck, High, false},
	{CO2NotDosing, Medium, false},
	{PHFalling, High, true},
	{PHHigh, Medium, true},
	{PHLow, High, true},
	{PHProbeDrift, Low, false},
	{TopOffRunaway, High, true},
	{TopOffFailed, Medium, true},
	{WaterLoss, High, true},
	{WaterChangeIncomplete, High, true},
	{FilterStalled, High, true},
	{FilterClogging, Low, false},
	{ReservoirLow, Medium, true},
	{ReservoirNotRefilling, Medium, true},
	{ReservoirOverfull, High, true},
	{DrainOverflow, High, true},
	{DrainPumpFailed, High, true},
	{TemperatureHigh, High, true},
	{TemperatureLow, High, true},
	{HeaterStuckOn, High, true},
	{HeaterNotHeating, Medium, true},
	{CoolingNotCooling, Medium, true},
	{LightsNotOn, Medium, false},
	{LightsStuckOn, Medium, false},
	{DoserNotDosing, Medium, false},
	{PowerLost, High, false},
	{TankPowerLost, High, false},
	{FloorWet, High, false},
	{RoomCO2High, High, false},
	{SensorSilent, Medium, true},
	{SensorStuck, Medium, true},
	{SensorImplausible, Medium, true},
	{SiteSilent, Medium, false},
	{GatewayClockWrong, Medium, false},
	{UnitSuspect, Low, false},
	{Unusual, Low, false},
	{VisitUndeclared, Medium, false},
	{DiskLow, High, false},
	{IntakeLost, High, false},
	{ConfigurationRefused, Medium, false},
	{NobodyReached, High, false},
}

// Causes lists every cause there is.
func Causes() []Cause {
	cs := make([]Cause, len(causes))
	for i, c := range causes {
		cs[i] = c.cause
	}
	return cs
}

// Known reports whether c is one of Causes.
func (c Cause) Known() bool { return c.Priority() != 0 }

// Priority is the cause's default priority, 0 for an unknown cause.
func (c Cause) Priority() Priority {
	for i := range causes {
		if causes[i].cause == c {
			return causes[i].priority
		}
	}
	return 0
}

// OutOfServiceOnVisit reports whether a declared visit takes c out of service.
func (c Cause) OutOfServiceOnVisit() bool {
	for i := range causes {
		if causes[i].cause == c {
			return causes[i].visit
		}
	}
	return false
}

// Own reports whether c is about lentic itself: such an alarm has no site.
func (c Cause) Own() bool {
	return c == DiskLow || c == IntakeLost || c == ConfigurationRefused || c == NobodyReached
}
