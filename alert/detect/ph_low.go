package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// The delay outlasts a probe that is lifted for a moment. Common practice, no
// source.
const phLowOn = 5 * time.Minute

// phLow: pH under the keeper's own bound for no reason named otherwise.
func phLow(v *view, t *tank) {
	if r := t.config.Limits.PH; r != nil {
		t.holdPH(v, side{cause: aquarium.PHLow, limit: r.Lo, out: -1, on: phLowOn})
	}
}
