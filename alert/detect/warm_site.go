package detect

// Where nobody tells of the room, the other tanks of the site do: no two heaters stick at
// once. One that warms by nearly as much more than is usual, with its own heater at rest for
// it is over its target, shows the day; tanks of other sizes follow a room by other paces,
// and then it is told. Common practice, no source.
const siteShare = 2.0 / 3

// siteWarms reports whether another tank of the site warms alike: by so much an hour more
// than is usual.
func (t *tank) siteWarms(v *view, more float64) bool {
	for _, o := range v.w.tanks {
		h := o.config.Equipment.Heater
		if o == t || h == nil {
			continue
		}
		w, ok := v.warmthOf(o.parts.heated, h.Target)
		if w.ask(v, o.parts.heater); !ok || w.known && w.on || w.over < risesFrom || o.disturbed(v, warmAgain) {
			continue
		}
		if p, sloped := w.perHour(v, o); sloped && p-o.usualRise(v, w.water, w.target) >= siteShare*more {
			return true
		}
	}
	return false
}
