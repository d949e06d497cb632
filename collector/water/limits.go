package water

import (
	"errors"
	"fmt"
)

// ErrRange: a value lies outside the range the sum is good for.
var ErrRange = errors.New("outside the valid range")

// limit is the closed range a value may have. Each is narrower than its
// source, and wide enough for every tank that is alive.
type limit struct {
	what   string
	lo, hi float64
	unit   string
}

var (
	// Plummer & Busenberg's constants hold from 0 to 90 C; nothing lives in
	// a tank beyond these.
	temperatures = limit{"temperature", 0, 50, "Cel"}
	// Beyond these the carbonate system no longer says what the pH is.
	acidities = limit{"pH", 4, 10, "pH"}
	// Davies' equation is good to an ionic strength of 0.5 mol/l; 40 dKH is
	// 0.014 mol/l. Under 0.1 dKH the alkalinity is no longer measurable.
	alkalinities = limit{"alkalinity", 0.1, 40, "dKH"}
	// Common practice, no source: from cleaner than mountain air to soda
	// water.
	carbonDioxides = limit{"dissolved CO2", 1e-4, 10000, "mg/l"}
	// Other salts: up to a brackish tank, within Davies' range.
	ionicStrengths = limit{"ionic strength", 0, 0.1, "mol/l"}
	// Parts per million in the room's air, up to a tenth of it.
	airs       = limit{"CO2 in air", 1, 100000, "ppm"}
	humidities = limit{"humidity", 0, 100, "%RH"}
	// A tank's surface and the draught over it.
	surfaces = limit{"surface", 0, 1000, "m2"}
	draughts = limit{"air speed", 0, 5, "m/s"}
	// ASHRAE's factors reach from 0.5 to 1.5 (from memory).
	stirrings = limit{"activity", 0, 2, "of the formula"}
	// How finely an instrument tells pH, and how fast a tank can exchange gas
	// with the room: common practice, no source.
	resolutions = limit{"resolution", 1e-4, 0.1, "pH"}
	exchanges   = limit{"gas exchange", 0, 20, "per hour"}
	// Volumes, flows and times on premises with display tanks: common
	// practice, no source.
	volumes   = limit{"volume", 0, 1e6, "l"}
	filled    = limit{"volume", 1, 1e6, "l"}
	changes   = limit{"change of volume", -1e6, 1e6, "l"}
	flows     = limit{"flow", 0, 1e5, "l/h"}
	running   = limit{"flow", 0.001, 1e5, "l/h"}
	stretches = limit{"time", 1, 400 * 24, "h"}
	// The temperatures for which the membranes' makers print a correction.
	feeds = limit{"feed temperature", 5, 34, "Cel"}
	// Benson & Krause measured from 0 to 40 Cel.
	oxygenAt = limit{"temperature", 0, 40, "Cel"}
	// A glass tank: common practice, no source.
	edges    = limit{"edge", 0.05, 10, "m"}
	panes    = limit{"glass", 0.003, 0.1, "m"}
	warmings = limit{"warming", 0, 20, "Cel per hour"}
	// A gas cylinder that a person can carry, and what it holds; a scale is
	// off by 50 g. Common practice, no source.
	cylinders = limit{"tare", 0.1, 100, "kg"}
	contents  = limit{"content", -0.05, 50, "kg"}
	// What a buffer can be, and what an electrode can give: 7 pH from its
	// zero are 450 mV at most, and some transmitters amplify.
	buffers    = limit{"buffer", 1, 13, "pH"}
	potentials = limit{"electrode potential", -2000, 2000, "mV"}
)

// check is nil when v lies within the limit. NaN does not.
func (l limit) check(v float64) error {
	if v >= l.lo && v <= l.hi {
		return nil
	}
	return fmt.Errorf("%s %g %s %w: want %g to %g", l.what, v, l.unit, ErrRange, l.lo, l.hi)
}

// first is the first error there is.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
