package detect

import (
	"math"

	"lentic/collector/aquarium"
)

// Of a tank that doses day and night, the gas that holds it at its pH says what night and
// morning say elsewhere: a probe that reads e too high has its controller hold 10^e times
// the CO2, of which the same gas is 10^e times less, so that the valve is open for more
// of the time. Water that has lost alkalinity does the contrary. Only gas that itself
// comes more slowly, through a diffuser that clogs or from a cylinder whose pressure
// falls, does the same as a probe that reads high, and no sum tells them apart: a second
// meter does, or a look at the bubble counter. What a needle valve or a cylinder at its
// end does, it does at once: then it is all learned anew.

// Held is what the gas has come to by which such a tank is held, since its probe was last
// handled.
type Held struct {
	From    aquarium.Instant `json:"from"` // nothing before counts
	Through aquarium.Instant `json:"through"`
	KH      float64          `json:"kh"`
	Gas     Trait            `json:"gas"`
	Duty    Trait            `json:"duty"`
}

// learnHeld takes the day's cycles in.
func learnHeld(v *view, t *tank, l *Learned) {
	if !nightless(t.config.Equipment.CO2) {
		return
	}
	next := Held{KH: t.kh}
	if l.Held != nil {
		next = *l.Held
	}
	if from := t.heldFrom(v); from > next.From {
		next = Held{From: from, KH: t.kh, Gas: next.Gas.anew(), Duty: next.Duty.anew()}
	}
	today := t.dosing.cycling.last.since(max(next.From, l.Through.Add(-day))).until(l.Through)
	if l.Through > next.Through && len(today) >= cyclesLeast {
		next.take(today, t.kh)
	}
	next.Through = l.Through
	l.Held = &next
}

// heldFrom is since when gas and probe are as they are.
func (t *tank) heldFrom(v *view) aquarium.Instant {
	return max(t.calibrated(v), t.calibrations.at, t.dosing.cycling.stepped)
}

// take takes a day in; what is usual does not follow what is under suspicion.
func (k *Held) take(day cycles, kh float64) {
	shift, by := k.shift(day, day, kh)
	if math.Abs(shift) >= driftSuspect && k.Gas.N >= traitLeast {
		return
	}
	k.KH = kh
	k.Gas.move(-by)
	k.Duty.move(by)
	gas, share := day.gas(), day.share()
	k.Gas.take(gas, k.Gas.Base-gas)
	k.Duty.take(share, share-k.Duty.Base)
}

// shift is by how much the probe seems to read high by the cycles now, the valve's share
// being that of the whole day; by is how much of it alkalinity explains.
func (k *Held) shift(now, day cycles, kh float64) (shift, by float64) {
	if k.Gas.N < traitLeast {
		return 0, 0
	}
	shift = k.Gas.Base - now.gas()
	if rest := less(shift, khShift(kh, k.KH)); rest != shift {
		shift, by = rest, shift-rest
	}
	open := (day.share() - k.Duty.Base - by) * math.Copysign(1, shift)
	return math.Copysign(min(math.Abs(shift), max(0, 2*open)), shift), by
}

// limit is the shift that is told by so many cycles that scatter by so much: what the
// days of the tank lie apart by counts, and what chance does to a median of few.
func (k *Held) limit(n int, scatter float64) float64 {
	few := medianWide * scatter / math.Sqrt(float64(n))
	return max(driftLimit, driftWide*math.Hypot(k.Gas.sd(), few))
}

// medianWide is how much wider a median scatters than a mean, of normal values: the root
// of pi/2.
const medianWide = 1.2533

// heldShift is what the last hours say of the probe.
type heldShift struct {
	at, through aquarium.Instant // of the last cycle, and of what was learned: else it is worked out anew
	kh          float64
	known       bool
	shift       float64 // pH; positive: reads high
	by          float64 // what alkalinity explains besides
	limit       float64
	told        bool // it is beyond the limit, and the half day before said so
	gas, open   float64
}

// heldBefore is how much of the limit the half day before must have shown.
const heldBefore = 0.5

// suspectHeld is what they say as of the newest cycle.
func (t *tank) suspectHeld(v *view) heldShift {
	c, k := &t.dosing.cycling, t.learned.Held
	if k == nil || len(c.last) == 0 || t.heldFrom(v) > k.From {
		return heldShift{}
	}
	x := heldShift{at: c.last[len(c.last)-1].at, through: t.learned.Through, kh: t.kh}
	if v.now.Sub(x.at) > Memory {
		return heldShift{}
	}
	if c.shift.at == x.at && c.shift.through == x.through && c.shift.kh == x.kh { // as nearly always
		return c.shift
	}
	day := c.last.since(max(k.From, x.at.Add(-2*cyclesFor)))
	now, before := day.since(x.at.Add(-cyclesFor)), day.until(x.at.Add(-cyclesFor))
	if x.known = k.Gas.N >= traitLeast && len(now) >= cyclesLeast && len(before) > 0; x.known {
		x.shift, x.by = k.shift(now, day, t.kh)
		x.limit = k.limit(len(now), day.scatter())
		prior, _ := k.shift(before, day, t.kh)
		x.told = math.Abs(x.shift) >= x.limit && prior*math.Copysign(1, x.shift) >= heldBefore*x.limit
		x.gas, x.open = now.gas()-k.Gas.Base, day.share()
	}
	c.shift = x
	return x
}

// isHeld reports whether a tank is to be judged by its cycles, for no morning is known.
func (t *tank) isHeld(v *view) bool {
	m := t.dosing.morning.At
	return nightless(t.config.Equipment.CO2) && (m == 0 || v.now.Sub(m) > Memory)
}

// phHeldDrift is phProbeDrift of a tank that doses day and night.
func phHeldDrift(v *view, t *tank) {
	x, k := t.suspectHeld(v), t.learned.Held
	if !x.known {
		if k != nil && (k.Gas.N < traitLeast || t.heldFrom(v) > k.From) { // handled
			v.find(aquarium.PHProbeDrift, t.config.ID, finding{equipment: "co2", prove: func() aquarium.Evidence {
				return aquarium.Evidence{Sensor: t.config.Equipment.CO2.PH, Value: t.config.Equipment.CO2.Target, Unit: "pH"}
			}})
		}
		return
	}
	is := x.told
	if v.stands(aquarium.PHProbeDrift, t.config.ID, "co2") {
		is = math.Abs(x.shift) >= driftBack*x.limit
	}
	if !is && v.state(aquarium.PHProbeDrift, t.config.ID, "co2") == nil {
		return
	}
	f := finding{equipment: "co2", true: is, worse: math.Abs(x.shift), step: driftLimit, priority: t.config.Priority(aquarium.PHProbeDrift)}
	implied := t.implied(v, x.shift)
	if bound := t.config.Limits.CO2; bound > 0 && implied > bound && t.config.Substrate != aquarium.Active {
		f.priority = aquarium.High
	}
	f.prove = func() aquarium.Evidence { return t.heldOff(v, x, implied) }
	v.find(aquarium.PHProbeDrift, t.config.ID, f)
}

// heldOff is the pH that is held against what the gas tells of it, and what moved with it.
func (t *tank) heldOff(v *view, x heldShift, implied float64) aquarium.Evidence {
	k, part := t.learned.Held, t.config.Equipment.CO2
	e := aquarium.Evidence{
		Sensor: part.PH, Value: part.Target, Unit: "pH", Expected: of(part.Target - x.shift),
		Facts: []aquarium.Fact{num(FactShift, x.shift, "pH"), num(FactHeld, 100*math.Pow(10, x.gas), "%"),
			num(FactOpen, 100*math.Pow(10, x.open), "%"), num(FactBefore, 100*math.Pow(10, k.Duty.Base), "%")},
	}
	if implied > 0 {
		e.Facts = append(e.Facts, num(FactCO2, implied, "mg/l"), num(FactKH, t.kh, "dKH"))
	}
	e.Facts = append(e.Facts, word(FactDoubt, gasDoubt(x.shift)))
	e.Excluded = []aquarium.Excluded{{What: aquarium.LookPlants, Because: num(FactHeld, 100*math.Pow(10, x.gas), "%")}}
	if tested := t.testedKH(v); tested > k.Through.Add(-2*day) && math.Abs(x.by) < math.Abs(x.shift)/2 {
		e.Excluded = append(e.Excluded, aquarium.Excluded{What: aquarium.LookHardness, Because: num(FactKH, t.kh, "dKH")})
	}
	return e
}

// gasDoubt is what nobody can tell apart from here of a shift that the gas alone tells.
func gasDoubt(shift float64) string {
	if shift < 0 {
		return "probe, KH or more gas"
	}
	return "probe, KH or gas"
}
