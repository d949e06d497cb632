package detect

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// A pH that stays down, or falls on, with the valve shut has other reasons than gas that
// goes on coming. Gas leaves the water by what the air has less of it: in a room that has
// half of the water's own it leaves half as fast at the most, and what is breathed out may
// keep it there. Where no pump moves the surface next to none leaves. And water that the
// top-off pours in has no alkalinity: a twentieth of the tank's brings the pH down by 0.02
// in an hour, which is as much as creeps. Common practice, no source.
const (
	airHolds    = 0.5
	rapidLoss   = 20.0 // l/h: slow leaks stand for days, and thin the water less than is seen
	heavesLeast = 0.2  // pH
	heavesOver  = 25 * time.Minute
)

// heldDown reports whether something else than its valve keeps a tank's pH down, as far
// as it is known.
func (t *tank) heldDown(v *view, g *gas) bool {
	return t.dark(v.w, v.now) || t.thinned(v) || t.airKeeps(v, g)
}

// thinned reports whether water comes in, or leaves and is made good, as fast as no
// evaporation is.
func (t *tank) thinned(v *view) bool {
	return t.vessel.loss.is && t.vessel.loss.litresH >= rapidLoss || v.stands(aquarium.TopOffRunaway, t.config.ID, "top_off")
}

// airKeeps reports whether the room's air has so much of the gas that next to none leaves.
func (t *tank) airKeeps(v *view, g *gas) bool {
	air, ok := t.airHas(v)
	return ok && g.co2 > 0 && air >= airHolds*g.co2
}

// airHas is what water has of the gas that is at rest with the room's air, mg/l, where
// that is known.
func (t *tank) airHas(v *view) (mgL float64, ok bool) {
	part := t.config.Equipment.Room
	if part == nil || part.CO2 == "" || !t.sensor(part.CO2).current(v.now) {
		return 0, false
	}
	c, err := water.At(assumedWater) // near enough
	if err != nil {
		return 0, false
	}
	air, err := c.Air(t.sensor(part.CO2).value())
	return float64(air), err == nil
}

// heaved reports whether the pH rose, with the valve shut, as no gas makes it that leaves,
// which is 0.43 an hour at the most (doubt.go), and has not come back to where it did from:
// an electrode in the air, whose film goes up and down.
func (g *gas) heaved(v *view, t *tank) bool {
	ps := g.ph.window(v.now, min(time.Hour, v.now.Sub(t.shutAt)-t.mixing()))
	for i, j := 0, 0; j < len(ps); j++ {
		for ps[j].at.Sub(ps[i].at) > heavesOver {
			i++
		}
		if g.value > ps[i].v && ps[j].v-ps[i].v >= heavesLeast+t.doubt.noise() {
			return true
		}
	}
	return false
}
