package detect

import (
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// What moves a tank's level besides evaporation and leaks is followed here, so
// that no cause takes it for its own: the top-off, filters that stop and start,
// automatic changes, people, mains.

// Common practice, no source.
const (
	// What a filter's hoses hold runs back or is drawn in within a minute or
	// two; waves and air bubbles are gone after three.
	filterSettles = 3 * time.Minute
	visitSettles  = 10 * time.Minute
	turningShare  = 0.125 // of its rating: a filter that gives less stands still
)

// jolts is how often filters stop and start in an hour that is looked at: more often,
// and the level tells nothing.
const jolts = 4

// stretch is a time from when to when; to 0: none.
type stretch struct{ from, to aquarium.Instant }

// vessel is what is followed of a tank's water.
type vessel struct {
	unrest   aquarium.Instant // until then the level is moved by what is known
	machines aquarium.Instant // the same of filters and mains alone
	jolts    [jolts]stretch   // what of the last hour that was, the newest first
	stirred  aquarium.Instant // the same of hands and changes, as far as they have shown themselves
	busy     aquarium.Instant // the same of people and changes, who may move a lot
	hands    aquarium.Instant // the same of people alone
	pumped   aquarium.Instant // when the top-off pump was last known on
	turning  uint64           // which filters were last seen to run, a bit each
	standing bool             // one is known to stand still
	change   change
	changed  aquarium.Instant // when one was last under way
	ebb      ebb
	loss     loss             // as of the last minute
	before   mark             // where the level was before it fell fast
	filled   aquarium.Instant // when a change last let water in
	left     mark             // where people or a change left it above its band
	slip     slip
	hung     hung
	scaled   scaled
	swings   swings
	waver    waver
	step     float64 // the least between two readings of the level, mm; 0: none ever differed
	runs     runs
	refill   refill
	rest     rest
	call     call
	days     [2]vesselDay // the present one, and the one before
}

// mark is a level, where it is known.
type mark struct {
	mm    float64
	known bool
}

// vesselDay is what a day of UTC comes to.
type vesselDay struct {
	at            aquarium.Instant
	hours, litres float64          // in which the level was at rest, and what it fell by
	model         float64          // what the air would take by the formula meanwhile, where the room is measured
	modelled      float64          // hours of that
	lowest        float64          // ten-minute mean of the level, mm
	uppermost     float64          // likewise
	added, span   float64          // litres by the top-off's runs, and the hours they made good for
	refill        Refill           // the last of the day
	start         float64          // what was stored when the last filling began that nobody had drawn for, l
	started       aquarium.Instant // when that was
	fill          float64          // how fast the day's last change of water came back, mm/h
	highest       float64          // five-minute mean of the store, l
	rest          float64          // the lowest it stood still at, l; 0: not known
}

// followVessel brings what is known of the water's whereabouts up to the tick.
func (t *tank) followVessel(v *view) {
	e, x := &t.config.Equipment, &t.vessel
	if at := v.now.Floor(day); x.days[0].at != at {
		x.days[1], x.days[0] = x.days[0], vesselDay{at: at}
	}
	guessed := v.stands(aquarium.VisitUndeclared, t.config.ID, "") && t.signs.spent != v.now && t.signs.stop == 0
	gone := t.signs.gone
	idle := t.handsIdle(v)
	if idle {
		gone = t.signs.touched()
	}
	visit := v.visited(t.config.ID) || guessed && !idle
	switch {
	case (idle || t.signs.spent == v.now) && !visit:
		x.stirred = min(v.now, gone.Add(visitSettles)) // what has left since is no work of theirs
		x.hands, x.busy = x.stirred, max(x.stirred, x.changed.Add(changeSettles))
	case visit:
		x.hands = v.now.Add(visitSettles)
		x.busy, x.before = max(x.busy, x.hands), mark{}
		if x.stirred = x.hands; !v.visited(t.config.ID) { // nobody says until when
			x.stirred = t.signs.touched().Add(visitSettles)
		}
	}
	if t.unpowered(v) {
		x.jolt(v.now, v.now)
	}
	x.watchFilters(t, v.now)
	if e.WaterChange != nil {
		x.change.follow(t, v, visit)
		if x.change.fills(t, v) {
			x.filled = v.now
		}
	}
	x.remain(t, v)
	if e.TopOff != nil {
		x.runs.follow(t, v, visit)
	}
	x.unrest = max(x.machines, x.stirred)
	before := x.hung.last
	x.ebb.follow(t, v, visit)
	x.hung.follow(t, v, before)
	x.slip.follow(t, v, visit)
	x.scaled.follow(t, visit)
	x.swings.follow(t, v, x.step)
	if e.Reservoir != nil {
		x.refill.follow(t, v)
	}
}

// remain notes a level that people or a change have left above its band: that is
// theirs, until it has come down. A change whose inlet and top-off race to the mark
// passes it by some millimetres; by more than changeMargin it does not stop.
func (x *vessel) remain(t *tank, v *view) {
	band := t.topOff().BandMM
	if t.level == nil || !t.level.current(v.now) {
		return
	}
	switch mm := t.level.value(); {
	case mm <= band/2: // a level near the band's end reads over and under it by turns
		x.left = mark{}
	case v.now < x.hands || t.filling(v) && mm <= band+changeMargin:
		x.left = mark{mm, true}
	}
}

// differ notes how fine the level's readings are.
func (x *vessel) differ(a, b float64) {
	if d := math.Abs(a - b); d > 0.01 && (x.step == 0 || d < x.step) {
		x.step = d
	}
}

// beyond is what readings must be beyond for the water to be so of a mark, mm: of a
// level in coarse steps that is the one in which the mark lies, for it may be read so
// from either side.
func (x *vessel) beyond(mark float64) float64 {
	if x.step < waveCoarse {
		return mark
	}
	if at := math.Round(mark*(1-aHair)/x.step) * x.step; math.Abs(at) > math.Abs(mark) {
		return at
	}
	return mark
}

// filling reports whether a change lets water in, or has just done so and the level
// has yet to show it.
func (t *tank) filling(v *view) bool {
	x := &t.vessel
	return x.filled != 0 && t.level != nil && v.now < x.filled.Add(max(settled, 3*t.level.interval()))
}

// filterForgotten is how long a filter that is not heard is taken to do what it did: readings
// have gaps of five minutes, and one that has stopped and started in a longer one may have
// moved the water. Common practice, no source.
const filterForgotten = 6 * time.Minute

// watchFilters notices a filter that stops or starts. One that is not heard does neither.
func (x *vessel) watchFilters(t *tank, at aquarium.Instant) {
	run := x.turning
	x.standing = false
	for i, s := range t.flows {
		bit := uint64(1) << i
		switch {
		case !s.current(at):
			if s == nil || at.Sub(s.heard) > filterForgotten {
				run &^= bit
			}
		case s.value() >= t.turns(i):
			run |= bit
		default:
			run &^= bit
			x.standing = true
		}
	}
	if run != x.turning {
		x.turning = run
		x.jolt(t.turned(at), at)
	}
}

// turns is the flow that a filter which runs has at the least, l/h.
func (t *tank) turns(filter int) float64 {
	return max(leastFlow, turningShare*t.config.Equipment.Filters[filter].RatedLH)
}

// turned is since when the last filter may have stopped or started of those that have
// just been seen to: two readings must say so, and before the first of them it may have
// for as long as one takes.
func (t *tank) turned(at aquarium.Instant) aquarium.Instant {
	from := aquarium.Instant(0)
	for i, s := range t.flows {
		if s.current(at) {
			on := s.value() >= t.turns(i)
			since, _ := s.run(func(v float64) bool { return v >= t.turns(i) == on })
			from = max(from, since.Add(-s.interval()))
		}
	}
	if from == 0 { // none is heard
		return at
	}
	return min(from, at)
}

// jolt notes that a filter has been seen to have stopped or started since then.
func (x *vessel) jolt(from, at aquarium.Instant) {
	if at > x.machines {
		copy(x.jolts[1:], x.jolts[:])
		x.jolts[0].from = from
	}
	x.machines = max(x.machines, at.Add(filterSettles))
	x.jolts[0].to = x.machines
}

// calm is what of the points lies before, between and after jolts, of which each may have
// lifted or lowered the level by what hoses hold.
func (x *vessel) calm(ps []point) (stretches [][]point) {
	for _, j := range x.jolts {
		if len(ps) == 0 || j.to <= ps[0].at {
			break // as nearly always, at once
		}
		before, after := within(ps, j.from-1), within(ps, j.to-1)
		if after < len(ps) {
			stretches = append(stretches, ps[after:])
		}
		ps = ps[:before]
	}
	if len(ps) > 0 {
		stretches = append(stretches, ps)
	}
	slices.Reverse(stretches)
	return stretches
}

// unpowered reports whether the tank is known to have no mains now: what does not
// run then has not failed.
func (t *tank) unpowered(v *view) bool {
	if v.w.mains.lost {
		return true
	}
	lit, known := t.parts.mains.isOn(v.now)
	return known && !lit
}

// perMM is the litres of a millimetre of the tank's level; assumed where its size
// is not known, between those of usual tanks (0.6 to 1.4).
func (t *tank) perMM() (litres float64, assumed bool) {
	if l := t.config.Size.LitresPerMM(); l > 0 {
		return l, false
	}
	return 1, true
}

// dayAt is what the day that began then came to.
func (x *vessel) dayAt(at aquarium.Instant) (vesselDay, bool) {
	for _, d := range x.days {
		if d.at == at {
			return d, true
		}
	}
	return vesselDay{}, false
}

// levelSeries is the series of the tank's own level: the top-off's, else the first
// that is not the waste container's; nil where there is none.
func (t *tank) levelSeries() *series {
	e := &t.config.Equipment
	if s := t.sensor(t.topOff().Level); s != nil {
		return s
	}
	for _, s := range t.order {
		if s.config.Quantity == aquarium.Level && (e.Drain == nil || e.Drain.Level != s.config.ID) {
			return s
		}
	}
	return nil
}

// topOff is the top-off's part of the configuration, the zero one where the tank
// has none.
func (t *tank) topOff() *aquarium.TopOff {
	if p := t.config.Equipment.TopOff; p != nil {
		return p
	}
	return &noTopOff
}

var noTopOff aquarium.TopOff

// assumedSize is said where litres are told of a tank of unknown size.
const assumedSize = "1 l per mm"
