package sim

// Fault is something that happens to a tank, by the name a plan gives it: what
// goes wrong here, and what a visit does in deed.go.
type Fault string

// Gas.
const (
	// CO2StuckOpen: the valve does not shut. Its switch goes on telling
	// what was commanded, soon shut. Strength: how many times the normal
	// flow passes; default 2.
	CO2StuckOpen Fault = "co2-stuck-open"
	// CO2CommandedOpen: the controller holds the valve open whatever the pH
	// and the hour, and its switch says so. Strength as CO2StuckOpen,
	// default 1.
	CO2CommandedOpen Fault = "co2-commanded-open"
	// CO2Leak: the valve does not close: of the normal flow a share passes
	// while it is commanded shut. Strength: that share; default 0.6.
	CO2Leak Fault = "co2-leak"
	// CO2Surge: the pressure behind the reducer runs up as the cylinder runs
	// out, within half an hour; the valve works. Strength: how many times
	// the normal flow passes an open valve then; default 12.
	CO2Surge Fault = "co2-surge"
	// CO2CylinderEmpty: the valve is commanded, nothing flows, and the
	// cylinder weighs what it does empty.
	CO2CylinderEmpty Fault = "co2-cylinder-empty"
	// CO2ShutByHand: the same with a full cylinder.
	CO2ShutByHand Fault = "co2-shut-by-hand"
	// CO2LineBlocked: the line closes slowly. Strength: the share of the
	// flow lost per day; default 0.3.
	CO2LineBlocked Fault = "co2-line-blocked"
	// RoomCO2: gas escapes into the room. Strength: ppm on top; default
	// 6000.
	RoomCO2 Fault = "room-co2"
	// KHCrash: acid uses the alkalinity up. Strength: dKH per day; default
	// 0.5.
	KHCrash Fault = "kh-crash"
)

// Water.
const (
	// TopOffRunaway: the pump runs on and its switch says so. It keeps its
	// rate; Strength: l/h instead.
	TopOffRunaway Fault = "topoff-runaway"
	// TopOffSiphon: water comes through the top-off line with the pump off.
	// Strength: l/h; default 12.
	TopOffSiphon Fault = "topoff-siphon"
	// TopOffDead: the pump is commanded and does not run.
	TopOffDead Fault = "topoff-dead"
	// TopOffWeak: its line is nearly blocked. Strength: the share of its
	// rate that comes; default 0.02.
	TopOffWeak Fault = "topoff-weak"
	// TopOffOff: the pump is not commanded.
	TopOffOff Fault = "topoff-off"
	// Leak: the tank loses water to the floor. Strength: l/h; default 4.
	Leak Fault = "leak"
	// BurstHose: the pressure side of the filter in Equipment comes off: its
	// sensor's flow is gone and the pump throws water out until its intake
	// is dry, a third down. Strength: l/h; default 300.
	BurstHose Fault = "burst-hose"
	// FloorWet: the floor's sensor is wet, from wherever.
	FloorWet Fault = "floor-wet"
	// ChangeStopped: the filling half of an automatic water change does not
	// come, and the changer gives up.
	ChangeStopped Fault = "change-stopped"
	// RefillDead: the reservoir's refilling is commanded, nothing comes.
	RefillDead Fault = "refill-dead"
	// RefillSlow: a membrane or filter is blocked. Strength: the share of
	// its production left at the same temperature; default 0.6.
	RefillSlow Fault = "refill-slow"
	// RefillRunaway: it keeps coming and the switch says so.
	RefillRunaway Fault = "refill-runaway"
	// RefillUncommanded: it keeps coming through a shut valve. Strength: the
	// share of its production; default 1.
	RefillUncommanded Fault = "refill-uncommanded"
	// ReservoirLeak: the store loses water to the floor. Strength: l/h;
	// default 5.
	ReservoirLeak Fault = "reservoir-leak"
	// DrainPumpDead: the waste pump is commanded and does not pump; or runs
	// with its impeller off.
	DrainPumpDead Fault = "drain-pump-dead"
	// DrainInflow: water keeps coming into the waste container. Strength:
	// l/h; default 1200, more than its pump takes.
	DrainInflow Fault = "drain-inflow"
)

// Filters: each of these needs one in Equipment where the tank has several.
const (
	// FilterStall: it does not turn.
	FilterStall Fault = "filter-stall"
	// FilterBlocked: its inlet is blocked. Strength: the share of its flow
	// left; default 0.1.
	FilterBlocked Fault = "filter-blocked"
	// FilterStallAfterPowerCut: a PowerCut from At to Until after which it
	// does not start again, for good.
	FilterStallAfterPowerCut Fault = "filter-stall-after-power-cut"
	// FilterClog: it clogs steadily from At on, beside what it does by
	// itself. Strength: the share of its clean flow lost per day, default
	// 0.08. Its end is a cleaning.
	FilterClog Fault = "filter-clog"
)

// Mains, heat and light.
const (
	// PowerCut: no mains at the site; a gateway with a battery lives.
	PowerCut Fault = "power-cut"
	// TankPowerCut: no mains at this tank only.
	TankPowerCut Fault = "tank-power-cut"
	// HeaterStuckOn: it heats whatever its switch says. Strength: the share
	// of its power; default 1.
	HeaterStuckOn Fault = "heater-stuck-on"
	// HeaterCommandedOn: its thermostat holds it on, and its switch says so.
	HeaterCommandedOn Fault = "heater-commanded-on"
	// HeaterStuckOff: it is commanded and does not heat.
	HeaterStuckOff Fault = "heater-stuck-off"
	// HeaterCommandedOff: its thermostat never calls for heat.
	HeaterCommandedOff Fault = "heater-commanded-off"
	// HeaterWeak: too small, or one of its rods gone. Strength: the share of
	// its power left; default 0.3.
	HeaterWeak Fault = "heater-weak"
	// CoolingStuckOff: it is commanded and does not cool.
	CoolingStuckOff Fault = "cooling-stuck-off"
	// RoomTemperature: the room is warmer than it should be, or colder.
	// Strength: K, of either sign; default 10.
	RoomTemperature Fault = "room-temperature"
	// Draught: a fan blows over the water: it evaporates faster. Strength:
	// m/s; default 1.1, which doubles it.
	Draught Fault = "draught"
	// LightsStuckOn and LightsStuckOff: against their times, and the switch
	// says so.
	LightsStuckOn  Fault = "lights-stuck-on"
	LightsStuckOff Fault = "lights-stuck-off"
	// DoserDead: the dosing pump in Equipment is not commanded any more.
	DoserDead Fault = "doser-dead"
)

// The electrode of the pH controller; the control follows it.
const (
	// PHDrift: it drifts. Strength: pH per day, of either sign; default
	// -0.03.
	PHDrift Fault = "ph-drift"
	// PHOffset: it is off from At on, as after a bad calibration. Strength:
	// pH, of either sign; default 0.3.
	PHOffset Fault = "ph-offset"
	// PHSlow: its membrane is fouled. Strength: its lag in minutes; default
	// 20.
	PHSlow Fault = "ph-slow"
	// PHShorted: 0 mV, pH 7.
	PHShorted Fault = "ph-shorted"
	// PHUnplugged: an open, high-impedance input that wanders, or lies at
	// the end of its range: the seed says which.
	PHUnplugged Fault = "ph-unplugged"
	// PHInAir: the holder has slipped out of the water; a drying film says
	// something else every hour.
	PHInAir Fault = "ph-in-air"
	// PHGround: a current leaks into the water while the heater is on, and
	// moves the electrode. Strength: pH, of either sign; default 0.3.
	PHGround Fault = "ph-ground"
)

// Sensors, as they are read: nothing else follows them but what is said.
const (
	// SensorSilent: no readings of Sensor; of the whole tank if it is empty.
	SensorSilent Fault = "sensor-silent"
	// SensorFrozen: Sensor repeats the value it had at At.
	SensorFrozen Fault = "sensor-frozen"
	// SensorSpikes: a bad contact. Strength: the share of readings that are
	// wild; default 0.05.
	SensorSpikes Fault = "sensor-spikes"
	// WrongUnit: Sensor sends another unit than it says: a level in cm as
	// mm, a temperature in degrees Fahrenheit as Celsius, others in
	// thousandths.
	WrongUnit Fault = "wrong-unit"
	// LevelStuck: the tank's float does not move; the top-off follows it.
	LevelStuck Fault = "level-stuck"
	// LevelSlipped: the tank's level sensor has moved in its holder; the
	// top-off follows it. Strength: mm it reads too high, of either sign;
	// default 12.
	LevelSlipped Fault = "level-slipped"
)
