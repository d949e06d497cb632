package text

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
)

// Finding is the longest message one cause can make at one tank.
type Finding struct {
	Tank    aquarium.TankID // empty: the whole site
	Cause   aquarium.Cause
	Septets int    // what it would take with nothing cut
	Cut     int    // septets the tank's and the site's name lose
	Dropped string // what does not fit even then: "", "explanation", "trend", "act", "link" or "end"
	Message string // as it would arrive
}

// Worst is the longest message of every tank and cause of a site, with a link
// of that many septets (0: none), the worst first. The numbers in them are as
// long as numbers get.
func Worst(s aquarium.Site, link int) []Finding {
	var fs []Finding
	for _, c := range aquarium.Causes() {
		switch {
		case c.Own():
		case c == aquarium.SiteSilent || c == aquarium.GatewayClockWrong || c == aquarium.PowerLost:
			fs = append(fs, finding(s, "", c, link))
		default:
			for _, t := range s.Tanks {
				fs = append(fs, finding(s, t.ID, c, link))
			}
		}
	}
	slices.SortStableFunc(fs, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(b.Cut, a.Cut), cmp.Compare(b.Septets, a.Septets))
	})
	return fs
}

func finding(s aquarium.Site, t aquarium.TankID, c aquarium.Cause, link int) Finding {
	p := compose(Raised, longest(s, t, c), s)
	url := ""
	if link > 0 {
		url = string(slices.Repeat([]byte("x"), link))
	}
	m, cut, dropped := fitted(p, url)
	return Finding{Tank: t, Cause: c, Septets: size(p.text(url)), Cut: cut, Dropped: dropped, Message: m}
}

// longest is an alarm whose evidence takes as much room as real evidence does.
func longest(s aquarium.Site, t aquarium.TankID, c aquarium.Cause) aquarium.Alarm {
	a := aquarium.Alarm{Identity: aquarium.Identity{Site: s.ID, Tank: t, Cause: c}}
	e := &a.Evidence
	e.Value, e.Unit = extreme(c)
	if e.Unit == "" {
		return a
	}
	limit, slope := e.Value*0.9, -e.Value/10
	e.Limit, e.PerHour = &limit, &slope
	e.Facts = []aquarium.Fact{
		{Name: "target", Value: e.Value * 1.1, Unit: e.Unit},
		{Name: "normal", Value: e.Value * 1.1, Unit: e.Unit},
		{Name: "silent", Value: 25, Unit: "min"},
		{Name: "run", Value: 25, Unit: "min"},
		{Name: "for", Value: 25, Unit: "min"},
		{Name: "shut", Value: 25, Unit: "min"},
	}
	if tank := s.Tank(t); tank != nil {
		a.Equipment = part(c, tank)
	}
	return a
}

// extreme is a value of the kind a cause is proved by, with many digits.
func extreme(c aquarium.Cause) (float64, aquarium.Unit) {
	switch c {
	case aquarium.CO2Overshoot, aquarium.CO2ValveStuck, aquarium.CO2NotDosing, aquarium.PHFalling, aquarium.PHHigh,
		aquarium.PHLow, aquarium.PHProbeDrift:
		return 6.37, "pH"
	case aquarium.TopOffRunaway, aquarium.TopOffFailed, aquarium.WaterLoss, aquarium.DrainOverflow, aquarium.DrainPumpFailed:
		return -388, "mm"
	case aquarium.FilterStalled, aquarium.FilterClogging:
		return 1090, "l/h"
	case aquarium.ReservoirLow, aquarium.ReservoirNotRefilling, aquarium.ReservoirOverfull:
		return 1200, "l"
	case aquarium.TemperatureHigh, aquarium.TemperatureLow, aquarium.HeaterStuckOn, aquarium.HeaterNotHeating, aquarium.CoolingNotCooling:
		return 28.8, "Cel"
	case aquarium.RoomCO2High:
		return 12000, "ppm"
	}
	return 0, ""
}

// part is the longest id the cause can name.
func part(c aquarium.Cause, t *aquarium.Tank) aquarium.EquipmentKey {
	var ids []string
	switch c {
	case aquarium.FilterStalled, aquarium.FilterClogging:
		for _, f := range t.Equipment.Filters {
			ids = append(ids, string(f.ID))
		}
	case aquarium.DoserNotDosing:
		for _, d := range t.Equipment.Dosers {
			ids = append(ids, string(d.ID))
		}
	case aquarium.SensorSilent, aquarium.SensorStuck, aquarium.SensorImplausible, aquarium.UnitSuspect:
		for _, s := range t.Sensors {
			ids = append(ids, string(s.ID))
		}
	}
	if len(ids) == 0 {
		return ""
	}
	return aquarium.EquipmentKey(slices.MaxFunc(ids, func(a, b string) int { return cmp.Compare(len(a), len(b)) }))
}
