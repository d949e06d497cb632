package sim

import "math"

// medium is what the electrode stands in, other than the tank.
type medium struct {
	buffer float64 // its pH, 0: none
	air    bool
}

const (
	bufferMinutes = 0.5 // a stirred buffer is read sooner: common practice, no source
	// openNoise is how far an open input of 1e12 ohms is moved by whoever
	// walks past, in pH: common practice, no source.
	openNoise = 0.8
)

// stepElectrode lets the electrode follow what it stands in.
func (t *Tank) stepElectrode() {
	c, s := &t.carbon, &t.trouble
	in, lag := c.ph, electrodeMinutes
	switch m := s.medium; {
	case m.buffer > 0:
		in, lag = m.buffer, bufferMinutes
	case m.air:
		in = t.filmPH()
	}
	if s.phLag > 0 {
		lag = s.phLag
	}
	c.electrode += (in - c.electrode) * min(1, stepHours*60/lag)
	if s.drifting {
		c.offset += s.drift * stepDays
	} else {
		c.offset = 0
	}
}

// filmPH is what a film says that dries on the glass: it takes up the room's
// gas and goes where it likes.
func (t *Tank) filmPH() float64 {
	return 7.6 + 0.9*t.room.film.wanderEvery(t.stepped, 40*60) + 0.25*(t.room.temperature-20)/5
}

// measuredPH is what the controller goes by, and the sensor too.
func (t *Tank) measuredPH() float64 {
	c, s := &t.carbon, &t.trouble
	switch {
	case s.phShorted:
		return 7
	case s.phOpen && t.room.film.uniform(-1) < 0.5:
		return 14
	case s.phOpen:
		return 7 + 5*t.room.film.wanderEvery(t.stepped, 11*60) + openNoise*t.room.film.normal(t.stepped)
	}
	ph := c.electrode + c.offset + c.aged + s.phOffset
	if s.phGround != 0 && s.medium == (medium{}) && t.heats() {
		ph += s.phGround
	}
	return math.Min(14, math.Max(0, ph))
}
