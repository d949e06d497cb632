package water

import "math"

// Temperature correction of thin-film reverse-osmosis elements, as their makers
// print it: at t the element gives its rated flow divided by exp(U (1/(273+t) -
// 1/298)). Normalisation to 25 Cel is the practice of ASTM D4516. The makers'
// charts differ by 7 % at 15 Cel and by 34 % at 5 Cel: no production is told
// better than to 10 %.
const (
	permeateCold = 3020.0 // K, below 25 Cel
	permeateWarm = 2640.0 // K, from 25 Cel up
)

// litresPerGallonUS is exact by definition.
const litresPerGallonUS = 3.785411784

// USGallonsPerDay is the flow of that many US gallons a day, as units are
// rated.
func USGallonsPerDay(g float64) LitrePerHour { return LitrePerHour(g * litresPerGallonUS / 24) }

// permeateFactor is what the rated flow is divided by; 5 to 34 Cel, else
// ErrRange.
func permeateFactor(t Celsius) (float64, error) {
	if err := feeds.check(float64(t)); err != nil {
		return 0, err
	}
	u := permeateCold
	if t >= 25 {
		u = permeateWarm
	}
	return math.Exp(u * (1/(273+float64(t)) - 1.0/298)), nil
}

// Permeate is what a unit gives at a feed temperature of 5 to 34 Cel, by its
// flow at 25 Cel; else ErrRange.
func Permeate(at25 LitrePerHour, feed Celsius) (LitrePerHour, error) {
	f, err := permeateFactor(feed)
	if err := first(err, flows.check(float64(at25))); err != nil {
		return 0, err
	}
	return at25 / LitrePerHour(f), nil
}

// PermeateAt25 is what a unit that gives this much at a feed temperature would
// give at 25 Cel: so that a cold tap is not taken for a blocked membrane. The
// ranges of Permeate.
func PermeateAt25(measured LitrePerHour, feed Celsius) (LitrePerHour, error) {
	f, err := permeateFactor(feed)
	if err := first(err, flows.check(float64(measured))); err != nil {
		return 0, err
	}
	return measured * LitrePerHour(f), nil
}

// Refill is how long a flow takes to bring in a volume. A flow that is not
// above 0, or out of range, is ErrRange.
func Refill(volume Litre, flow LitrePerHour) (Hour, error) {
	if err := first(volumes.check(float64(volume)), running.check(float64(flow))); err != nil {
		return 0, err
	}
	return Hour(float64(volume) / float64(flow)), nil
}

// Turnover is how often in an hour a flow moves a volume; ErrRange for no
// volume.
func Turnover(flow LitrePerHour, volume Litre) (PerHour, error) {
	if err := first(flows.check(float64(flow)), filled.check(float64(volume))); err != nil {
		return 0, err
	}
	return PerHour(float64(flow) / float64(volume)), nil
}
