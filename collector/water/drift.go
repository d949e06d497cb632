package water

import "math"

// Check is what a probe of pH showed when it was looked after: in the tank
// before and after it was cleaned, beside an independent meter over the same
// minutes, and then in a buffer, before anything was adjusted. Without a meter
// its two values are equal, as zeros are: the water is then taken to have
// stayed as it was.
type Check struct {
	Before, After           PH // the probe in the tank, around its cleaning
	MeterBefore, MeterAfter PH // the independent meter, at the same times
	Buffer, Reading         PH // after cleaning
}

// The parts of an error and their sum, as corrections: what has to be added to
// the probe's reading at the end of the time since its last good calibration.
// Wagner, R.J. et al. (2006) USGS Techniques and Methods 1-D3, from memory.

// Fouling is what cleaning changed, less what the water itself did meanwhile.
func (c Check) Fouling() PH { return (c.After - c.Before) - (c.MeterAfter - c.MeterBefore) }

// Drift is what the buffer is worth less what the clean probe read in it.
func (c Check) Drift() PH { return c.Buffer - c.Reading }

// Total is Fouling and Drift together.
func (c Check) Total() PH { return c.Fouling() + c.Drift() }

// Size is how large the errors are, whichever way each goes.
func (c Check) Size() PH { return PH(math.Abs(float64(c.Fouling())) + math.Abs(float64(c.Drift()))) }

// Criteria for a continuous monitor of pH: Wagner et al. 2006, tables 10, 17
// and 18, from memory.
const (
	correctOver   PH = 0.2 // a smaller error is left as it is
	excellentUpTo PH = 0.2
	goodUpTo      PH = 0.5
	fairUpTo      PH = 0.8
	reportUpTo    PH = 2
)

// roundOff is far below what any meter shows: 0.2 as a sum of decimals is not
// more than 0.2.
const roundOff PH = 1e-9

// Due reports whether errors of that size call for a correction of the record.
func Due(size PH) bool { return size > correctOver+roundOff }

// Rating is the grade of a record with errors of that size.
type Rating string

const (
	RatedExcellent Rating = "excellent"
	RatedGood      Rating = "good"
	RatedFair      Rating = "fair"
	RatedPoor      Rating = "poor"
	RatedUnfit     Rating = "not to be reported" // more than a correction can mend
)

// Rate is the grade of a record of pH with errors of that size.
func Rate(size PH) Rating {
	switch size -= roundOff; {
	case size <= excellentUpTo:
		return RatedExcellent
	case size <= goodUpTo:
		return RatedGood
	case size <= fairUpTo:
		return RatedFair
	case size <= reportUpTo:
		return RatedPoor
	}
	return RatedUnfit
}
