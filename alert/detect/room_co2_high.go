package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Carbon dioxide in the air people breathe: 5,000 ppm is the most they may work
// in for eight hours (29 CFR 1910.1000, table Z-1; NIOSH recommends the same),
// 30,000 ppm for a quarter of an hour (NIOSH); from 40,000 it is immediately
// dangerous to life (NIOSH 1994). A crowded room comes to 2,000, so the first of
// them is no room's own air: it is told within five minutes and not after eight
// hours, for a cylinder that leaks goes on leaking; the second is told with the
// second reading. Breath on the sensor is over in three minutes, counted from the first
// reading that shows it: from the second they would be four of a reading a minute, and
// told too late. The deadband and
// the delays are common practice, no source.
const (
	roomCO2Most   = 5000.0
	roomCO2Severe = 30000.0
	roomCO2Back   = 4000.0
	roomCO2On     = 3 * time.Minute
	roomCO2Off    = 10 * time.Minute
	roomCO2Step   = 5000.0
	roomCO2Moves  = 10 * time.Minute
	// roomCO2Air is what outdoor air has and a bit: what comes on top has a
	// source in the room.
	roomCO2Air = 430.0
	// mostExchange is how much of what it has too little a tank takes up in an
	// hour at the most.
	mostExchange = 1.0
)

// airBrings reports whether the room's air explains a rise of the water's CO2, in
// mg/l an hour: gas goes to where less of it is, by an exchange an hour at the most.
func (t *tank) airBrings(v *view, g *gas, rise float64) bool {
	air, ok := t.airHas(v)
	return ok && g.co2 > 0 && rise <= mostExchange*(air-g.co2)
}

// roomCO2High: carbon dioxide in the room is beyond what people may breathe.
func roomCO2High(v *view, t *tank) {
	part := t.config.Equipment.Room
	if part == nil || part.CO2 == "" {
		return
	}
	s := t.sensor(part.CO2)
	if !s.current(v.now) {
		return
	}
	limit, on := roomCO2Most, roomCO2On
	if v.stands(aquarium.RoomCO2High, t.config.ID, "room") {
		limit = roomCO2Back
	}
	since, n := s.run(func(ppm float64) bool { return ppm >= limit })
	switch {
	case s.value() >= roomCO2Severe:
		on = 0
	case n == 0: // what is over by the last reading is not told, and what a lone one denies not over
		on = longestRun
	}
	v.find(aquarium.RoomCO2High, t.config.ID, finding{
		equipment: "room", true: s.value() >= limit, since: since, on: on, off: roomCO2Off, worse: s.value(), step: roomCO2Step,
		prove: func() aquarium.Evidence { return t.roomAir(v, s) },
	})
}

// roomAir is the room's air against what people may breathe for eight hours. The
// time to harm is that until the limit of a quarter of an hour.
func (t *tank) roomAir(v *view, s *series) aquarium.Evidence {
	e := aquarium.Evidence{Sensor: s.config.ID, Value: s.value(), Unit: "ppm", Limit: of(roomCO2Most), Expected: of(roomCO2Air)}
	if p, ok := t.trend(s, v.now, 10*time.Minute); ok {
		e.PerHour = of(p)
		if p > 0 {
			e.HarmIn = of(max(0, roomCO2Severe-s.value()) / p * 60)
		}
	}
	e.Excluded = s.alive(v, roomCO2Moves)
	return e
}

func blindRoomCO2(t *aquarium.Tank) string {
	if p := t.Equipment.Room; p == nil || t.Sensor(p.CO2) == nil {
		return "no co2 sensor under room"
	}
	return ""
}
