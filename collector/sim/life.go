package sim

import (
	"math"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// Common practice, no source.
const (
	fedOf         = 0.88 // of the days the filters are stopped for feeding
	feedJitter    = 6    // minutes to either side of the usual time
	growthPerDay  = 0.006
	mostPlants    = 1.35
	khLossPerDay  = 0.015 // dKH, by nitrification
	tanninPerDay  = 0.06  // dKH on the first day of a planted tank
	soilPerDay    = 0.12  // the same of an active soil
	settlesInDays = 16.0  // to a third of that
	agedPerDay    = 0.002 // pH an electrode drifts at most by itself
	scarceMeqL    = 0.3   // alkalinity below which acid finds less of it
	outliersOf    = 1.0 / 15000
)

// life is what goes on at a tank that people live with. Everything of it is a
// function of the seed and the day.
type life struct {
	own      func(string) stream
	day      stream
	tomorrow aquarium.Instant
	started  aquarium.Instant // 0: long ago
	feeds    bool             // by hand, at about that time
	feedAt   float64          // minutes after midnight
	minutes  float64
	aged     float64 // pH per day
	khLoss   float64 // dKH per day
}

func newLife(t *Tank, own func(string) stream) *life {
	l := &life{own: own, day: own("day"), feeds: true, feedAt: math.Round(own("feed").between(11*60, 19*60)),
		minutes: own("feeds").between(8, 12), aged: own("aged").between(-agedPerDay, agedPerDay),
		khLoss: khLossPerDay * own("acid").between(0.3, 1)}
	for _, f := range t.tank.Equipment.Filters {
		l.feeds = l.feeds && len(f.Stops) == 0 // else a timer does it
	}
	if !t.tank.Started.IsZero() {
		l.started = aquarium.At(t.tank.Started)
	}
	t.carbon.aged = own("calibration").between(-0.05, 0.05)
	t.carbon.plants = own("plants").between(0.8, 1.2)
	for i := range t.filters {
		f := &t.filters[i]
		s := own("clog " + string(t.tank.Equipment.Filters[i].ID))
		f.perDay = s.between(0.0015, 0.004)
		f.clean = 1 - f.perDay*30*s.uniform(1)
	}
	for i := range t.probes {
		t.probes[i].outliers = outliersOf
	}
	return l
}

// liveOn plans a new day when it has begun.
func (t *Tank) liveOn() {
	l := t.life
	if t.stepped < l.tomorrow {
		return
	}
	y, m, d := t.stepped.In(t.zone()).Date()
	midnight := time.Date(y, m, d, 0, 0, 0, 0, t.zone())
	l.tomorrow = aquarium.At(midnight.AddDate(0, 0, 1))
	t.daily = l.plan(t, aquarium.At(midnight))
	t.nextPlan = t.stepped
}

func (t *Tank) zone() *time.Location {
	if t.loc == nil {
		return time.UTC
	}
	return t.loc
}

// plan is one day: the feeding, a splash or two, and gaps of the gateway and of
// single sensors, none longer than five minutes.
func (l *life) plan(t *Tank, midnight aquarium.Instant) []Planned {
	n := int64(midnight) / (24 * 3600 * 1000)
	draw := func(k int64) float64 { return l.day.uniform(n*64 + k) }
	at := func(minutes float64) aquarium.Instant {
		return midnight.Add(time.Duration(minutes * float64(time.Minute))).Floor(time.Second)
	}
	var ps []Planned
	if l.feeds && draw(0) < fedOf {
		from := l.feedAt + feedJitter*(2*draw(1)-1)
		ps = append(ps, Planned{Fault: FiltersOff, At: at(from), Until: at(from + l.minutes + 2*(draw(2)-0.5))})
	}
	for k := range int64(3 * draw(3)) {
		from := 20 + 1390*draw(4+k)
		ps = append(ps, Planned{Fault: Waves, At: at(from), Until: at(from + 0.3 + draw(8+k)), Strength: 4 + 6*draw(12+k)})
	}
	for k := range int64(3 * draw(16)) {
		from := 20 + 1390*draw(20+k)
		p := Planned{Fault: SensorSilent, At: at(from), Until: at(from + 0.5 + 4.4*draw(24+k))}
		if draw(28+k) < 0.7 && len(t.probes) > 0 {
			p.Sensor = t.probes[int(draw(32+k)*float64(len(t.probes)))].sensor.ID
		}
		ps = append(ps, p)
	}
	return ps
}

// age is what a minute does to plants, water and electrode.
func (t *Tank) age() {
	const days = 1.0 / 1440
	l, c := t.life, &t.carbon
	c.plants = min(mostPlants, c.plants*(1+growthPerDay*days))
	c.aged += l.aged * days
	loss := l.khLoss
	if l.started != 0 {
		if old := t.stepped.Sub(l.started).Hours() / 24; old >= 0 {
			acid := tanninPerDay
			if t.tank.Substrate == aquarium.Active {
				acid += soilPerDay
			}
			loss += acid * math.Exp(-old/settlesInDays)
		}
	}
	// What is nearly used up is used up more slowly.
	loss *= min(1, t.alkalinityPerL()/scarceMeqL)
	c.alkalinity -= float64(water.DegreeKH(loss*days).MeqPerL()) * t.vessel.litres
}
