package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Alkaline water harms more slowly than acid with its gas does: it is given twice the
// delay of ph-low. Common practice, no source.
const phHighOn = 10 * time.Minute

// phHigh: pH over the keeper's own bound.
func phHigh(v *view, t *tank) {
	if r := t.config.Limits.PH; r != nil {
		t.holdPH(v, side{cause: aquarium.PHHigh, limit: r.Hi, out: 1, on: phHighOn})
	}
}
