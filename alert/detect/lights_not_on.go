package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// A quarter of an hour late is told, for dosing goes on without light. Within
// the hour plants come to no harm: common practice, no source.
const darkFor = 15 * time.Minute

// lightsNotOn: the lights are off in their hours.
func lightsNotOn(v *view, t *tank) { t.judgeLights(v, aquarium.LightsNotOn, true, darkFor) }
