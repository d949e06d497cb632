package detect

import "lentic/collector/aquarium"

// temperatureHigh: water over the keeper's own bound.
func temperatureHigh(v *view, t *tank) {
	if r := t.config.Limits.Temperature; r != nil {
		t.holdWarmth(v, side{cause: aquarium.TemperatureHigh, limit: r.Hi, out: 1})
	}
}
