package detect

import (
	"fmt"
	"math"
	"slices"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
	"lentic/collector/water"
)

// suspicion is what the newest morning, learned already or not, says of the
// probe.
type suspicion struct {
	shift float64 // smoothed
	leap  float64 // the most it has moved in one morning
	alone float64 // of the last morning
	prior float64 // of the one before
	kh    float64 // how much of it alkalinity explains
	known bool
}

func (t *tank) suspect(v *view) suspicion {
	k := t.learned.Drift
	if k == nil || k.Mornings < traitLeast || t.calibrated(v) > k.From {
		return suspicion{}
	}
	by := khShift(t.kh, k.KH)
	m := t.dosing.morning
	if handled := t.calibrations.at; handled > k.From && !k.badly(m, handled, t.kh) {
		return suspicion{}
	}
	if m.At > max(k.Through, k.From) {
		alone, by := t.newest(m)
		shift := k.smooth(alone)
		return suspicion{shift, k.leapt(k.Shift, shift), alone, k.Last, by, true}
	}
	shift := less(k.Shift, by)
	return suspicion{shift, k.Leap, k.Last, k.Last, k.Shift - shift, true}
}

// sooner is what of the limits is enough of a shift towards more gas that has come little
// by little.
func (x suspicion) sooner() float64 {
	if x.shift > 0 && x.leap <= driftLeap*x.shift {
		return driftCrept / driftLimit
	}
	return 1
}

// phProbeDrift: the electrode and the tank's chemistry disagree: it reads high,
// and its controller brings in more gas than is meant, or low, or the alkalinity
// has changed. It is low, and high where the CO2 that this comes to passes the
// tank's bound.
func phProbeDrift(v *view, t *tank) {
	if !t.dosed() {
		return
	}
	if t.isHeld(v) {
		phHeldDrift(v, t)
		return
	}
	x := t.suspect(v)
	k := t.learned.Drift
	if !x.known {
		if k != nil { // handled, or not known for long enough
			v.find(aquarium.PHProbeDrift, t.config.ID, finding{equipment: "co2", prove: func() aquarium.Evidence {
				return aquarium.Evidence{Sensor: t.config.Equipment.CO2.PH, Value: t.dosing.morning.Plateau, Unit: "pH"}
			}})
		}
		return
	}
	limit := k.limit() * x.sooner()
	way := math.Copysign(1, x.shift)
	agrees := min(x.alone*way, x.prior*way) >= driftAgrees*limit
	found := t.found(v, x)
	grows := t.grows(x, found)
	sudden := x.alone*way >= max(driftSudden, limit)
	nightly := t.nightly(v, found)
	is := math.Abs(x.shift) >= limit && agrees || grows || sudden || nightly
	if v.stands(aquarium.PHProbeDrift, t.config.ID, "co2") {
		if t.dosing.ramp != 0 {
			return // what the night has shown the morning says in a moment
		}
		is = grows || nightly || max(math.Abs(x.shift), math.Abs(found)) >= driftBack*limit
	}
	if !is && v.state(aquarium.PHProbeDrift, t.config.ID, "co2") == nil {
		return
	}
	f := finding{equipment: "co2", true: is, worse: math.Abs(x.shift), step: driftLimit, priority: t.config.Priority(aquarium.PHProbeDrift)}
	implied := t.implied(v, x.shift)
	if bound := t.config.Limits.CO2; bound > 0 && implied > bound && t.config.Substrate != aquarium.Active {
		f.priority = aquarium.High
	}
	f.prove = func() aquarium.Evidence {
		if math.Abs(found) > math.Abs(x.shift) {
			x.shift = found
		}
		return t.drifted(v, x, implied)
	}
	v.find(aquarium.PHProbeDrift, t.config.ID, f)
}

// nightly reports whether the night's pH lies as far from what it usually is at this hour
// as must be told, on the side on which the last morning has found it. Where its hours say
// when the gas ended, that is without what is left of how the pH lay then, by the first
// hour without gas: in its band it lay anywhere.
func (t *tank) nightly(v *view, found float64) bool {
	d, s, part := &t.dosing, t.parts.acid, t.config.Equipment.CO2
	if math.Abs(found) < nightAfter || d.asked != 0 || d.last == 0 || t.doubted() || v.now.Sub(d.disturbed) < disturbedFor { // as nearly always
		return false
	}
	at := v.now.Floor(time.Hour).Add(-time.Hour)
	first, ok := t.firstWithout(v)
	if ok = ok && first < at; !ok && v.now.Sub(d.last) < night+time.Hour {
		return false
	}
	k := t.learned.Drift
	var usual, firsts []float64
	for i := range nightDays {
		ago := time.Duration(i+1) * -day
		h, f := t.hourOf(s, at.Add(ago)), t.hourOf(s, first.Add(ago))
		if h.N > 0 && (f.N > 0 || !ok) {
			usual, firsts = append(usual, h.Mean), append(firsts, f.Mean)
		}
	}
	now, then := t.hourOf(s, at), t.hourOf(s, first)
	if now.N == 0 || ok && then.N == 0 || len(usual) < nightLeast {
		return false
	}
	shows, least := k.shows(statistic.Median(slices.Clone(usual)), part.Target), nightShows
	if ok {
		left := (1 - shows) / (1 - k.shows(statistic.Median(slices.Clone(firsts)), part.Target))
		for i := range usual {
			usual[i] -= left * firsts[i]
		}
		now.Mean -= left * then.Mean
		shows, least = 1-left, nightEarly
	}
	if shows < least {
		shows = 1 // what would be made of little is as well an hour of gas more or less
	}
	return (now.Mean-statistic.Median(usual))*math.Copysign(1, found) >= nightShift*shows
}

// firstWithout is the first whole hour since the hours of dosing ended, where there are any.
func (t *tank) firstWithout(v *view) (aquarium.Instant, bool) {
	h := t.config.Equipment.CO2.Hours
	if h == nil || h.From == h.To || h.Contains(t.clock) {
		return 0, false
	}
	return v.now.Floor(time.Minute).Add(-time.Duration(earlier(t.clock, time.Duration(h.To)*time.Minute)) * time.Minute).Ceil(time.Hour), true
}

// grows reports whether the next morning would find more than must be told, the last two
// having said so.
func (t *tank) grows(x suspicion, found float64) bool {
	k := t.learned.Drift
	if 2*math.Abs(found) < driftAhead*driftCrept/driftLimit { // as nearly always
		return false
	}
	way, prior := math.Copysign(1, found), x.prior
	if t.dosing.morning.At > max(k.Through, k.From) { // else the one before it is no longer known
		before := k.agreed(morning{Plateau: k.Plateau.Prior, Rate: k.Rate.Prior}, 0)
		prior = way * max(prior*way, before*way)
	}
	return prior*way >= max(driftGrown, driftTimes*k.sd()) && (2*found-prior)*way >= max(driftAhead, k.limit())*x.sooner()
}

// found is what night and gas of the last morning say. The valve's share is that of the
// day before it, and cannot know what has come since: where another night speaks
// besides, it is not asked.
func (t *tank) found(v *view, x suspicion) float64 {
	m := t.dosing.morning
	if m.At == 0 || v.now.Sub(m.At) > Memory {
		return x.alone
	}
	m.Duty = 0
	shift, _ := t.newest(m)
	return shift
}

// weighed is what a morning has been found to say.
type weighed struct {
	of               morning
	by               *Drift // against what is usual
	kh               float64
	shift, explained float64 // pH, and how much of it alkalinity explains
}

// newest is what the newest morning says, with its duty or without: mostly what was found
// before.
func (t *tank) newest(m morning) (shift, by float64) {
	k := t.learned.Drift
	x := &t.weighed[0]
	if m.Duty == 0 {
		x = &t.weighed[1]
	}
	if x.of != m || x.by != k || x.kh != t.kh {
		*x = weighed{of: m, by: k, kh: t.kh}
		x.shift, x.explained = k.shift(m, t.kh)
	}
	return x.shift, x.explained
}

// implied is the CO2 in mg/l that the controller holds if the probe is that much
// off, or the alkalinity; 0 where that is not known.
func (t *tank) implied(v *view, shift float64) float64 {
	if t.kh <= 0 {
		return 0
	}
	temperature := assumedWater
	if s := t.water(); s.current(v.now) {
		temperature = s.value()
	}
	co2, err := water.CO2(water.PH(t.config.Equipment.CO2.Target-shift), water.DegreeKH(t.kh), water.Celsius(temperature))
	if err != nil {
		return 0
	}
	return float64(co2)
}

// drifted is the pH of the night against what is usual, and what moved with it.
func (t *tank) drifted(v *view, x suspicion, implied float64) aquarium.Evidence {
	k, m := t.learned.Drift, t.dosing.morning
	if m.At == 0 { // of the days before what is remembered
		m = morning{Plateau: k.Plateau.Prior, Rate: k.Rate.Prior, Duty: k.Duty.Prior}
	}
	e := aquarium.Evidence{
		Sensor: t.config.Equipment.CO2.PH, Value: m.Plateau, Unit: "pH", Expected: of(k.Plateau.Base),
		Facts: []aquarium.Fact{num(FactShift, x.shift, "pH"), num(FactGas, 100*math.Pow(10, m.Rate-k.Rate.Base), "%")},
	}
	if m.Duty != 0 && k.Duty.N >= traitLeast {
		e.Facts = append(e.Facts, num(FactOpen, 100*math.Pow(10, m.Duty), "%"), num(FactBefore, 100*math.Pow(10, k.Duty.Base), "%"))
	}
	if implied > 0 {
		e.Facts = append(e.Facts, num(FactCO2, implied, "mg/l"), num(FactKH, t.kh, "dKH"))
	}
	night := m.Plateau - k.Plateau.Base
	e.Excluded = []aquarium.Excluded{{What: aquarium.LookPlants, Because: num(FactGas, 100*math.Pow(10, m.Rate-k.Rate.Base), "%")}}
	if !k.nightTells(night, x.shift) {
		e.Facts = append(e.Facts, word(FactDoubt, gasDoubt(x.shift)))
		return e
	}
	e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookValve, Because: num(FactNight, night, "pH")})
	if tested := t.testedKH(v); tested > k.Through.Add(-2*day) && math.Abs(x.kh) < math.Abs(x.shift)/2 {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookHardness, Because: num(FactKH, t.kh, "dKH")})
	} else {
		e.Facts = append(e.Facts, word(FactDoubt, "probe or KH"))
	}
	return e
}

// testedKH is when the alkalinity was last measured by hand, 0: never.
func (t *tank) testedKH(v *view) (at aquarium.Instant) {
	for _, e := range v.w.noted(aquarium.HandTest) {
		if e.Concerns(aquarium.TankKey{Site: v.w.site.ID, Tank: t.config.ID}) && e.At <= v.now {
			at = max(at, e.At)
		}
	}
	return at
}

func blindDrift(t *aquarium.Tank) string {
	if why := blindNotDosing(t); why != "" {
		return why
	}
	if t.Equipment.CO2.Target <= 0 {
		return "no target under co2"
	}
	return ""
}

// DriftNeeds says in words what else a drift of the probe is seen with only, where the
// configuration cannot tell whether that comes: a controller's hysteresis, or nights
// without gas; "" otherwise.
func DriftNeeds(t aquarium.Tank) string {
	if blindDrift(&t) != "" || !nightless(t.Equipment.CO2) {
		return ""
	}
	return fmt.Sprintf("co2 without hours may dose by night too: a drift of its probe is seen only where pH goes up and down in its band at least %d times in %.0f h, or the valve often stays shut for %.0f h",
		cyclesLeast, cyclesFor.Hours(), night.Hours())
}
