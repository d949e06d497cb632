package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Half an hour too long is told, for it takes days until algae are there: common
// practice, no source.
const lateFor = 30 * time.Minute

// lightsStuckOn: the lights are on outside their hours.
func lightsStuckOn(v *view, t *tank) { t.judgeLights(v, aquarium.LightsStuckOn, false, lateFor) }
