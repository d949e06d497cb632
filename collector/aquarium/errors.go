package aquarium

import "errors"

// Errors that cross package borders. Callers branch on them with errors.Is and
// never on text.
var (
	// ErrUnknownSite, ErrUnknownTank, ErrUnknownSensor: nothing of that id is
	// configured.
	ErrUnknownSite   = errors.New("unknown site")
	ErrUnknownTank   = errors.New("unknown tank")
	ErrUnknownSensor = errors.New("unknown sensor")
	// ErrUnit: the quantity is not taken in that unit.
	ErrUnit = errors.New("unit not accepted")
	// ErrNeedsCalibration: a pH in millivolts without a calibration in force.
	ErrNeedsCalibration = errors.New("pH in mV needs an electrode calibration")
	// ErrUnknownAlarm: no alarm has that id.
	ErrUnknownAlarm = errors.New("unknown alarm")
	// ErrNotPossible: the alarm's state does not allow what was asked, as
	// shelving one that has returned to normal.
	ErrNotPossible = errors.New("not possible in the alarm's state")
	// ErrUnknownPerson: nobody of that id is configured.
	ErrUnknownPerson = errors.New("unknown person")
)
