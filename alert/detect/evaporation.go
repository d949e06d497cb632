package detect

import (
	"lentic/alert/statistic"
	"lentic/collector/water"
)

// What evaporates differs by a factor of ten from tank to tank, by its surface,
// cover and room, and from day to day by a factor of two. So it is learned from
// the days, and where the room is measured as the share of what the formula says,
// which follows the room at once.
const (
	evaporationDays  = 14
	evaporationKnown = 3 // days it takes
	stillAir         = 0.1
	// In a heat wave doors stand open, and twice as much evaporates: that is
	// less than this factor and ebbSlack together for what tanks of 400 to
	// 1000 l lose, up to 0.4 l/h or ten litres a day.
	evaporationMore = 1.4
	// Of a tank that loses more, the double and the warmth of its afternoons
	// are allowed, with ebbSlack in it.
	evaporationTwice = 2.8
	// Before anything is learned the room is taken for warm, dry and draughty,
	// and the formula for less than half of what goes: a third of a litre an
	// hour from 150 by 60 cm.
	unknownAir      = 24.0 // Cel
	unknownHumidity = 35.0 // %RH
	unknownMore     = 2.2
	unknownDraught  = 0.3
	unknownArea     = 1.2 // m2 where the size is not known
)

// Evaporation is what left a tank on one day, into the air as far as is known.
type Evaporation struct {
	LitresH float64 `json:"l_h"`
	Model   float64 `json:"model,omitempty"` // what the formula says of that day's room; 0: not measured
}

// allowance is what the air may take from the tank now, l/h; ebbSlack comes on
// top.
func (t *tank) allowance(v *view) float64 {
	e, _ := t.evaporation(v)
	return max(evaporationMore*e, evaporationTwice*e-ebbSlack)
}

// evaporation is what the tank is expected to lose into the air now, l/h, and
// whether that was learned from it.
func (t *tank) evaporation(v *view) (litresH float64, learned bool) {
	model, modelled := t.airModel(v)
	rate, share := &t.airMemo, &t.shareMemo
	if !rate.holds(t.learned, v.now) {
		*rate, *share = t.evaporated()
	}
	switch {
	case modelled && share.n >= evaporationKnown:
		return max(0, share.v*model), true
	case rate.n >= evaporationKnown:
		return max(0, rate.v), true
	}
	air := water.Surface{Water: water.Celsius(t.waterNow(v)), Air: unknownAir, Humidity: unknownHumidity, Area: t.surface(), Draught: unknownDraught}
	e, err := air.Evaporation()
	if err != nil {
		return 0.5, false
	}
	return unknownMore * float64(e), false
}

// evaporated is what the last days came to, l/h, and how many times what the
// formula says.
func (t *tank) evaporated() (rate, share memo) {
	var rates, shares []float64
	for _, d := range last(t.learned.Vessel.Evaporation, evaporationDays) {
		rates = append(rates, d.LitresH)
		if d.Model > 0 {
			shares = append(shares, d.LitresH/d.Model)
		}
	}
	rate, share = memo{of: t.learned, n: len(rates)}, memo{of: t.learned, n: len(shares)}
	if rate.n > 0 {
		rate.v = statistic.Median(rates)
	}
	if share.n > 0 {
		share.v = statistic.Median(shares)
	}
	return rate, share
}

// airModel is what the formula says evaporates now, l/h; false where the room is
// not measured.
func (t *tank) airModel(v *view) (litresH float64, ok bool) {
	room := t.config.Equipment.Room
	if room == nil || !t.sensor(room.Temperature).current(v.now) || !t.sensor(room.Humidity).current(v.now) {
		return 0, false
	}
	e, err := water.Surface{
		Water: water.Celsius(t.waterNow(v)), Air: water.Celsius(t.sensor(room.Temperature).value()),
		Humidity: t.sensor(room.Humidity).value(), Area: t.surface(), Draught: stillAir,
	}.Evaporation()
	return float64(e), err == nil && e > 0
}

func (t *tank) waterNow(v *view) float64 {
	if s := t.water(); s.current(v.now) {
		return s.value()
	}
	return assumedWater
}

// surface is the open water in m2.
func (t *tank) surface() float64 {
	if s := t.config.Size; s.LengthCM > 0 && s.WidthCM > 0 {
		return s.LengthCM * s.WidthCM / 10000
	}
	return unknownArea
}
