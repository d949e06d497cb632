package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// Alkaline water harms more slowly than acid with its gas does: it is given twice the
// delay of ph-low. Common practice, no source.
const phHighOn = 10 * time.Minute

// phHigh: pH over the keeper's own bound for no reason named otherwise.
func phHigh(v *view, t *tank) {
	if r := t.config.Limits.PH; r != nil {
		// Without its gas the pH goes where plants take it: that has its name.
		named := v.stands(aquarium.CO2NotDosing, t.config.ID, "co2") && !v.stands(aquarium.PHHigh, t.config.ID, t.pHOf)
		t.holdPH(v, side{cause: aquarium.PHHigh, limit: r.Hi, out: 1, on: phHighOn, named: named})
	}
}
