package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A timer's clock may be some minutes off, and a keeper at work turns the lights
// as he needs them. Common practice, no source.
const lightsOff = 2 * time.Minute

// judgeLights: they are to be as wanted, in their hours on and outside them off. What
// they were before a gap in the readings and are after it they were in it.
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
	since := max(t.sensor(l.Switch).since, v.now.Floor(time.Minute).Add(-t.sinceTurn(*hours)))
	v.find(c, t.config.ID, finding{
		equipment: "lights", true: wrong, since: since, on: on, off: lightsOff,
		prove: func() aquarium.Evidence {
			e := aquarium.Evidence{Sensor: l.Switch, Value: t.sensor(l.Switch).value(),
				Facts: []aquarium.Fact{word(FactHours, hours.String()), lasting(FactFor, v.now.Sub(since))}}
			if wrong {
				e.Excluded = []aquarium.Excluded{{What: aquarium.LookClock, Because: lasting(FactFor, v.now.Sub(since))}}
			}
			return e
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
