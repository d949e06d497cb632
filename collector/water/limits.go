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
