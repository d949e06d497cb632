package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A timer's clock may be some minutes off, and a keeper at work turns the lights
// as he needs them: a quarter of an hour late is told, for dosing goes on without
// light; half an hour too long, for it takes days until algae are there. Both
// are this program's own choice: within the hour plants and fish come to no harm
// by either.
const (
	darkFor   = 15 * time.Minute
	lateFor   = 30 * time.Minute
	lightsOff = 2 * time.Minute
)

// lightsNotOn: the lights are off in their hours.
func lightsNotOn(v *view, t *tank) { t.judgeLights(v, aquarium.LightsNotOn, true, darkFor) }

// lightsStuckOn: the lights are on outside their hours.
func lightsStuckOn(v *view, t *tank) { t.judgeLights(v, aquarium.LightsStuckOn, false, lateFor) }

func (t *tank) judgeLights(v *view, c aquarium.Cause, want bool, on time.Duration) {
	l, hours := t.config.Equipment.Lights, t.config.Lights
	if l == nil || hours == nil {
		return
	}
	is, known := t.on(l.Switch, v.now)
	if !known {
		return
	}
	wrong := is != want && hours.Contains(t.clock) == want
	since := t.sensor(l.Switch).since
	v.find(c, t.config.ID, finding{
		equipment: "lights", true: wrong, on: on, off: lightsOff,
		prove: func() aquarium.Evidence {
			return aquarium.Evidence{Sensor: l.Switch, Value: t.sensor(l.Switch).value(),
				Facts: []aquarium.Fact{lasting(FactFor, v.now.Sub(max(since, v.now.Add(-t.sinceTurn(*hours)))))}}
		},
	})
}

// sinceTurn is how long ago the hours of light last began or ended.
func (t *tank) sinceTurn(hours aquarium.Span) time.Duration {
	ago := func(c aquarium.Clock) time.Duration {
		return time.Duration((t.clock-c+dayMinutes)%dayMinutes) * time.Minute
	}
	return min(ago(hours.From), ago(hours.To))
}

func blindLights(t *aquarium.Tank) string {
	switch l := t.Equipment.Lights; {
	case l == nil || t.Sensor(l.Switch) == nil:
		return "no switch under lights"
	case t.Lights == nil:
		return "no times: lights on and off"
	}
	return ""
}
