package water

import "math"

// Condition is how good an electrode is by its calibration.
type Condition string

const (
	ElectrodeGood         Condition = "good"
	ElectrodeAcceptable   Condition = "acceptable"   // it ages: clean it, and have another at hand
	ElectrodeUnacceptable Condition = "unacceptable" // clean and calibrate again, else replace it
)

// Bands of electrode practice: a slope of 95 to 102 % of the Nernst slope is
// good (the USGS National Field Manual, chapter A6.4, is said to give the same;
// from memory); 85 to 105 % and an offset within 30 mV of nothing at pH 7 are
// acceptable (an electrode maker's how-to: 150 to 186 mV between pH 4.01 and
// 7.01).
const (
	slopeGoodMin, slopeGoodMax     = 95.0, 102.0 // %
	slopeAcceptMin, slopeAcceptMax = 85.0, 105.0 // %
	offsetAccept                   = 30.0        // mV
)

// Condition judges slope, where one is known, and offset.
func (c Calibration) Condition() Condition {
	s, known := c.Slope()
	switch {
	case known && (s < slopeAcceptMin || s > slopeAcceptMax), math.Abs(float64(c.Offset())) > offsetAccept:
		return ElectrodeUnacceptable
	case known && (s < slopeGoodMin || s > slopeGoodMax):
		return ElectrodeAcceptable
	}
	return ElectrodeGood
}
