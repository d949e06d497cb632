package detect

import "lentic/collector/aquarium"

// temperatureLow: water under the keeper's own bound.
func temperatureLow(v *view, t *tank) {
	if r := t.config.Limits.Temperature; r != nil {
		t.holdWarmth(v, side{cause: aquarium.TemperatureLow, limit: r.Lo, out: -1})
	}
}
