package screen

import (
	"time"

	"lentic/collector/aquarium"
)

// home is between which values a sensor in the tank's water has lain of late.
// A jump that lands there is a return, and a buffer is not home.
type home struct {
	// Lo and Hi of the day that began at Day and of the one before.
	Lo    [2]float64       `json:"lo"`
	Hi    [2]float64       `json:"hi"`
	Day   aquarium.Instant `json:"day,omitempty"`
	Known int              `json:"known"` // days that Lo and Hi are of: 0, 1, 2
	// Abroad is since when it has stood in other water, with what it has
	// read there; 0: it is at home.
	Abroad   aquarium.Instant `json:"abroad,omitempty"`
	AbroadLo float64          `json:"abroadLo,omitempty"`
	AbroadHi float64          `json:"abroadHi,omitempty"`
}

const (
	homeDay = 24 * time.Hour
	// settled is how long a sensor stays in other water before that is its
	// home: no cleaning and no calibration takes so long. Common practice,
	// no source.
	settled = 6 * time.Hour
)

// stay notes a value that is believed.
func (h *home) stay(v float64, at aquarium.Instant) {
	if h.Abroad != 0 {
		switch {
		case h.holds(v, 0):
			h.Abroad = 0
		case at.Sub(h.Abroad) >= settled:
			*h = home{Lo: [2]float64{h.AbroadLo}, Hi: [2]float64{h.AbroadHi}, Day: at, Known: 1}
		default:
			h.AbroadLo, h.AbroadHi = min(h.AbroadLo, v), max(h.AbroadHi, v)
			return
		}
	}
	if h.Known == 0 || at.Sub(h.Day) >= homeDay {
		h.Lo[1], h.Hi[1] = h.Lo[0], h.Hi[0]
		h.Lo[0], h.Hi[0] = v, v
		h.Day, h.Known = at, min(h.Known+1, 2)
		return
	}
	h.Lo[0], h.Hi[0] = min(h.Lo[0], v), max(h.Hi[0], v)
}

// holds reports whether v is within the home or that near to it.
func (h *home) holds(v, near float64) bool {
	lo, hi := h.span()
	return v >= lo-near && v <= hi+near
}

func (h *home) span() (lo, hi float64) {
	if h.Known > 1 {
		return min(h.Lo[0], h.Lo[1]), max(h.Hi[0], h.Hi[1])
	}
	return h.Lo[0], h.Hi[0]
}

// goAbroad notes that what is read from now on is other water.
func (h *home) goAbroad(v float64, at aquarium.Instant) {
	h.Abroad, h.AbroadLo, h.AbroadHi = at, v, v
}
