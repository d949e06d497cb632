package detect

import (
	"cmp"
	"iter"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Watch judges one site. It belongs to one goroutine.
type Watch struct {
	site    aquarium.Site
	causes  []cause
	ranks   map[aquarium.Cause]int // their order
	tanks   []*tank
	places  map[aquarium.TankID]*tank
	remote  map[aquarium.SensorID]*series // what gateways say of themselves
	pending []aquarium.Sample
	taken   []aquarium.Sample // since the first of the moments, in the order of time
	moments []moment          // of the last whole minutes
	journal map[string]aquarium.Entry
	states  map[aquarium.Identity]*state
	order   []*state         // parents first, then by place
	began   aquarium.Instant // the first tick
	now     aquarium.Instant // the last one
	heard   aquarium.Instant // anything at all from the site
	resumed aquarium.Instant // the first reading after the last quiet of the whole site
	mains   mains
}

// New makes a watch over a site. It knows nothing of the past until it is told.
func New(site aquarium.Site) *Watch {
	w := &Watch{
		site: site, causes: table(), ranks: map[aquarium.Cause]int{},
		places: map[aquarium.TankID]*tank{}, remote: map[aquarium.SensorID]*series{},
		journal: map[string]aquarium.Entry{}, states: map[aquarium.Identity]*state{},
	}
	for i, c := range w.causes {
		w.ranks[c.name] = i
	}
	for i := range site.Tanks {
		t := newTank(site.ID, &site.Tanks[i])
		w.tanks = append(w.tanks, t)
		w.places[t.config.ID] = t
	}
	return w
}

// Observe hands over a sample, in any order. It is looked at with the next
// tick; one with a time after that waits for its own.
func (w *Watch) Observe(x aquarium.Sample) {
	k := x.Sensor
	if k.Site != w.site.ID {
		return
	}
	if k.Tank == aquarium.SiteWide && w.remote[k.Sensor] == nil {
		w.remote[k.Sensor] = &series{key: k, config: gatewaySensor(k.Sensor)}
	}
	w.pending = append(w.pending, x)
}

// Note hands over a journal entry, or replaces the one of that id. It counts
// from its own time on, also one in the future.
func (w *Watch) Note(e aquarium.Entry) { w.journal[e.ID] = e }

// Interval is a sensor's reporting interval, configured or learned; 0: not
// known.
func (w *Watch) Interval(k aquarium.SensorKey) time.Duration {
	if s := w.series(k); s != nil {
		return s.interval()
	}
	return 0
}

// series is what is known of a sensor, nil for one that is not the site's.
func (w *Watch) series(k aquarium.SensorKey) *series {
	if k.Site != w.site.ID {
		return nil
	}
	if k.Tank == aquarium.SiteWide {
		return w.remote[k.Sensor]
	}
	if t := w.places[k.Tank]; t != nil {
		return t.sensors[k.Sensor]
	}
	return nil
}

// every is each series there is.
func (w *Watch) every() iter.Seq[*series] {
	return func(yield func(*series) bool) {
		for _, t := range w.tanks {
			for _, s := range t.order {
				if !yield(s) {
					return
				}
			}
		}
		for _, s := range w.remote {
			if !yield(s) {
				return
			}
		}
	}
}

// Tick takes in everything up to at, a whole Step later than the last tick,
// and returns what has changed, in an order that depends on nothing else. A
// tick that is not later than the last says nothing.
func (w *Watch) Tick(at aquarium.Instant) []aquarium.Transition {
	if at <= w.now {
		return nil
	}
	if w.began == 0 {
		w.began = at
	}
	inOrder(w.pending)
	n := upTo(w.pending, at)
	early := upTo(w.pending, w.now)
	if belated := w.belated(w.pending[:early]); len(belated) > 0 {
		w.rewind(belated)
	}
	w.judge(at, w.pending[early:n])
	w.pending = append(w.pending[:0], w.pending[n:]...)
	return w.tell(at)
}

// judge takes samples in and looks at every cause once.
func (w *Watch) judge(at aquarium.Instant, xs []aquarium.Sample) {
	w.now = at
	w.take(xs)
	v := w.look(at)
	for _, c := range w.causes {
		c.judge(v)
	}
	for _, s := range w.order {
		if s.seen != at {
			s.unsure() // no cause spoke of it
		}
		v.listen(s)
	}
	if at.Floor(time.Minute) == at {
		w.remember()
	}
}

// take gives samples in the order of time to their series. Of two values for one
// sensor and time the one that was handed over first stands.
func (w *Watch) take(xs []aquarium.Sample) {
	for _, x := range xs {
		s := w.series(x.Sensor)
		if s == nil || x.At < w.now.Add(-Memory) {
			continue
		}
		if n := len(w.taken); n == 0 || w.taken[n-1].At <= x.At {
			w.taken = append(w.taken, x)
		}
		s.take(x)
		if _, item, ok := aquarium.SplitGatewaySensor(x.Sensor.Sensor); ok && item == aquarium.GatewayPresent && x.Value < 0.5 {
			continue // the broker says that, not the site
		}
		if w.heard != 0 && x.At.Sub(w.heard) > siteQuiet && x.At.Sub(w.heard) > w.sitePatience()/quietShare {
			w.resumed = x.At
		}
		w.heard = max(w.heard, x.At)
	}
}

// gatewaySensor says how an item of a gateway's health is to be read: present
// and mains hold until the next.
func gatewaySensor(id aquarium.SensorID) aquarium.Sensor {
	s := aquarium.Sensor{ID: id, Quantity: aquarium.Number, OnChange: true}
	if _, item, _ := aquarium.SplitGatewaySensor(id); item == aquarium.GatewayPresent || item == aquarium.GatewayMains {
		s.Quantity = aquarium.Switch
	}
	return s
}

// Stand says, after a warm-up, what stands: that and nothing else has been
// told. What is true besides is raised with the next tick.
func (w *Watch) Stand(alarms []aquarium.Alarm) {
	for _, s := range w.order {
		s.shown = nothing
	}
	for _, a := range alarms {
		if a.Active && a.Site == w.site.ID {
			w.state(a.Identity).stand(a)
		}
	}
	w.moments, w.taken = w.moments[:0], w.taken[:0]
	if w.now != 0 {
		w.remember() // what is said here is not to be gone back behind
	}
}

// stand takes over what has been told of an alarm.
func (s *state) stand(a aquarium.Alarm) {
	if !s.stands { // nothing better is known than what the alarm itself tells
		s.last.evidence, s.silent = a.Evidence, a.Evidence.LastKnown
		if s.seen == 0 {
			s.last.priority = a.Priority
		}
	}
	s.stands, s.since, s.priority, s.told, s.lastKnown, s.pageOnly = true, a.Since, a.Priority, s.toldBy(a.Evidence), a.Evidence.LastKnown, a.PageOnly
	if s.trueFrom == 0 {
		s.trueFrom = a.Since
	}
	switch a.State {
	case aquarium.StateOutOfService:
		s.shown = withdrawn
	case aquarium.StateSuppressed:
		s.shown = suppressed
	default:
		s.shown = raised
	}
}

// state is the state of an identity, made when it is first met.
func (w *Watch) state(id aquarium.Identity) *state {
	s := w.states[id]
	if s == nil {
		s = &state{id: id}
		w.states[id] = s
		i, _ := slices.BinarySearchFunc(w.order, s, func(a, b *state) int { return w.compare(a.id, b.id) })
		w.order = slices.Insert(w.order, i, s)
	}
	return s
}

// compare orders identities: parents before their children, then by place.
func (w *Watch) compare(a, b aquarium.Identity) int {
	return cmp.Or(cmp.Compare(w.ranks[a.Cause], w.ranks[b.Cause]), cmp.Compare(a.Tank, b.Tank), cmp.Compare(a.Equipment, b.Equipment))
}
