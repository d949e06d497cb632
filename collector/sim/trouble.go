package sim

import "lentic/collector/aquarium"

// trouble is what the planned faults and deeds come to at one moment.
type trouble struct {
	stuckOpen, commandedOpen float64 // times the normal flow, 0: not
	valveLeaks               float64 // share of the normal flow, while it is shut
	surge                    float64 // as stuckOpen
	surgeFrom                aquarium.Instant
	cylinderEmpty, gasShut   bool
	blockedPerDay            float64
	blockedFrom              aquarium.Instant
	roomPPM, khPerDay        float64

	runaway               bool
	runawayLH             float64 // 0: the pump's own
	siphonLH, leakLH      float64
	topOffDead, topOffOff bool
	topOffShare           float64 // of its rate
	burstLH               float64
	wet, changeStopped    bool
	refillDead, refillOn  bool
	refillShare           float64 // of the production
	refillShut            float64 // share that comes through a shut valve
	reservoirLH, usedLH   float64
	drainLH               float64
	drainDead             bool
	outLH, inLH, pourLH   float64
	wavesMM               float64
	levelStuck            bool
	levelSlipped          float64 // mm

	siteDark, dark      bool
	heaterOn, heaterOff bool
	heaterShare         float64 // of its power
	heatOn, heatOff     bool    // commanded, whatever the thermostat says
	coolingOff          bool
	roomK, draught      float64
	lightsOn, lightsOff bool

	drift               float64 // pH per day
	drifting            bool
	phOffset            float64
	phGround            float64
	phLag               float64 // minutes, 0: the electrode's own
	phShorted, phOpen   bool
	medium              medium
	co2Off, heatUnplugs bool

	allSilent bool
}

// plan brings trouble up to date; it changes at few moments only, and between
// them nothing is looked at.
func (t *Tank) plan(at aquarium.Instant) {
	if at < t.nextPlan {
		return
	}
	t.nextPlan = 1<<63 - 1
	defer func() { t.planned = at }()
	was := t.trouble
	t.trouble = trouble{topOffShare: 1, refillShare: 1, heaterShare: 1}
	for i := range t.filters {
		t.filters[i].stalled, t.filters[i].off, t.filters[i].left, t.filters[i].faultPerDay = false, false, 1, 0
	}
	for i := range t.dosers {
		t.dosers[i].dead = false
	}
	for i := range t.probes {
		p := &t.probes[i]
		p.silent, p.wasFrozen, p.frozen, p.wild, p.wrongUnit = false, p.frozen, false, 0, false
	}
	for _, ps := range [...][]Planned{t.faults, t.visits, t.daily} {
		for _, p := range ps {
			for _, edge := range [2]aquarium.Instant{p.At, p.Until} {
				if edge > at && edge < t.nextPlan {
					t.nextPlan = edge
				}
			}
			t.suffer(p, at)
		}
	}
	if t.trouble.levelStuck && !was.levelStuck {
		t.vessel.stuckMM = t.vessel.levelMM()
	}
	for i := range t.probes {
		if p := &t.probes[i]; p.frozen && !p.wasFrozen {
			p.held = p.value(t, at)
		}
	}
}

// suffer takes one fault into account, if it is there at that moment.
func (t *Tank) suffer(p Planned, at aquarium.Instant) {
	if p.Fault == FilterStallAfterPowerCut && at >= p.At {
		t.filters[filterIndex(t.tank, p.Equipment)].stalled = true
	}
	if !p.active(at) {
		return
	}
	f := faults[p.Fault]
	if f.once && p.At <= t.planned {
		return
	}
	strength := p.Strength
	if strength == 0 {
		strength = f.strength
	}
	f.does(t, p, strength)
}
