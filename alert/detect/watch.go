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
	site     aquarium.Site
	causes   []cause
	ranks    map[aquarium.Cause]int // their order
	unlit    int                    // that of a tank without mains
	tanks    []*tank
	places   map[aquarium.TankID]*tank
	remote   map[aquarium.SensorID]*series // what gateways say of themselves
	gateways []*series                     // the same, by their keys
	mainsAll []*series                     // that can tell of the site's mains
	last     *series                       // whose sample came last
	view     view
	pending  []heard
	taken    []heard  // since the first of the moments, in the order of time
	moments  []moment // of the last whole minutes
	straight bool     // there will be nothing to go back for
	journal  map[string]aquarium.Entry
	byKind   map[aquarium.EntryKind][]aquarium.Entry // of the journal; nil: to be made
	states   map[aquarium.Identity]*state
	own      [][]*state       // those of the site as a whole, by the causes' order
	order    []*state         // parents first, then by place
	began    aquarium.Instant // the first tick
	now      aquarium.Instant // the last one
	heard    aquarium.Instant // anything at all from the site
	resumed  aquarium.Instant // the first reading after the last quiet of the whole site
	mains    mains
}

// New makes a watch over a site. It knows nothing of the past until it is told.
func New(site aquarium.Site) *Watch {
	w := &Watch{
		site: site, causes: table(), ranks: map[aquarium.Cause]int{},
		places: map[aquarium.TankID]*tank{}, remote: map[aquarium.SensorID]*series{}, last: &series{},
		journal: map[string]aquarium.Entry{}, states: map[aquarium.Identity]*state{},
	}
	for i, c := range w.causes {
		w.ranks[c.name] = i
	}
	w.unlit = w.ranks[aquarium.TankPowerLost]
	w.own = make([][]*state, len(w.causes))
	for i := range site.Tanks {
		t := newTank(site.ID, &site.Tanks[i])
		t.states = make([][]*state, len(w.causes))
		w.tanks = append(w.tanks, t)
		w.places[t.config.ID] = t
	}
	w.arrange()
	return w
}

// heard is a sample that came, with its series.
type heard struct {
	of      *series
	at      aquarium.Instant
	value   float64
	rank    int32 // of its series
	quality aquarium.Quality
}

// Observe hands over a sample, in any order. It is looked at with the next
// tick; one with a time after that waits for its own.
func (w *Watch) Observe(x aquarium.Sample) {
	s := w.last.next // sensors come in turn
	if s == nil || s.called != x.Sensor {
		if s = w.beside(x.Sensor); s == nil {
			if s = w.meet(x.Sensor); s == nil {
				return
			}
		}
		if s.called.Sensor == "" {
			s.called = x.Sensor
		}
		w.last.next = s
	}
	w.last = s
	w.pending = append(w.pending, heard{s, x.At, x.Value, s.rank, x.Quality})
}

// beside is the series of a sensor of the same tank as the last one, else nil.
func (w *Watch) beside(k aquarium.SensorKey) *series {
	if l := &w.last.key; k.Tank != l.Tank || k.Site != l.Site || w.last.tank == nil {
		return nil
	}
	return w.last.tank.sensor(k.Sensor)
}

// meet is the series of a sensor, nil for one that is not the site's; a gateway
// may begin to tell of something at any time.
func (w *Watch) meet(k aquarium.SensorKey) *series {
	s := w.series(k)
	if s == nil && k.Site == w.site.ID && k.Tank == aquarium.SiteWide {
		_, item, _ := aquarium.SplitGatewaySensor(k.Sensor)
		s = &series{key: k, config: gatewaySensor(k.Sensor), item: item}
		w.remote[k.Sensor] = s
		w.gateways = append(w.gateways, s)
		w.arrange()
	}
	return s
}

// arrange works out what depends on which series there are: their order, and
// which can tell of the site's mains.
func (w *Watch) arrange() {
	less := func(a, b *series) int {
		return cmp.Or(cmp.Compare(a.key.Tank, b.key.Tank), cmp.Compare(a.key.Sensor, b.key.Sensor))
	}
	slices.SortFunc(w.gateways, less)
	for i, s := range slices.SortedFunc(w.every(), less) {
		s.rank = int32(i)
	}
	for _, xs := range [...][]heard{w.pending, w.taken} {
		for i := range xs {
			xs[i].rank = xs[i].of.rank
		}
	}
	w.mainsAll = w.mainsAll[:0]
	for _, s := range w.gateways {
		if s.item == aquarium.GatewayMains {
			w.mainsAll = append(w.mainsAll, s)
		}
	}
	for _, t := range w.tanks {
		if p := t.config.Equipment.Power; p != nil && t.sensor(p.Mains) != nil {
			w.mainsAll = append(w.mainsAll, t.sensor(p.Mains))
		}
	}
}

// Note hands over a journal entry, or replaces the one of that id. It counts
// from its own time on, also one in the future.
func (w *Watch) Note(e aquarium.Entry) {
	w.journal[e.ID] = e
	w.byKind = nil
}

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
		return t.sensor(k.Sensor)
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
		for _, s := range w.gateways {
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
	early, n := 0, len(w.pending)
	if n > 0 && w.pending[0].at <= w.now {
		early = upTo(w.pending, w.now)
		if belated := w.belated(w.pending[:early]); len(belated) > 0 {
			w.rewind(belated)
		}
	}
	if n > 0 && w.pending[n-1].at > at {
		n = upTo(w.pending, at)
	}
	w.judge(at, w.pending[early:n])
	w.pending = append(w.pending[:0], w.pending[n:]...)
	return w.tell(at)
}

// judge takes samples in and looks at every cause once.
func (w *Watch) judge(at aquarium.Instant, xs []heard) {
	w.now = at
	w.take(xs)
	for _, t := range w.tanks {
		t.release(at)
		for _, s := range t.order {
			s.hold(at)
		}
	}
	v := w.look(at)
	v.judgeAll()
	for _, s := range w.order {
		if s.seen != at {
			s.unsure(at) // no cause spoke of it
		}
		v.listen(s)
	}
	if !w.straight && at.Floor(time.Minute) == at {
		w.remember()
	}
}

// take gives samples in the order of time to their series. Of two values for one
// sensor and time the one that was handed over first stands.
func (w *Watch) take(xs []heard) {
	for _, x := range xs {
		if x.at < w.now.Add(-Memory) {
			continue
		}
		if n := len(w.taken); !w.straight && (n == 0 || w.taken[n-1].at <= x.at) {
			w.taken = append(w.taken, x)
		}
		x.of.screened(x.at, x.value, x.quality)
		if x.of.item == aquarium.GatewayPresent && x.value < 0.5 {
			continue // the broker says that, not the site
		}
		if w.heard != 0 && x.at.Sub(w.heard) > siteQuiet && x.at.Sub(w.heard) > w.lull() {
			w.resumed = x.at
		}
		w.heard = max(w.heard, x.at)
	}
}

// Straight tells whether what is handed over from now on comes in the order of
// time, so that the watch need not remember how it stood: a replay is faster for
// it. Nothing older than the last tick may come until twelve minutes after that
// has been taken back: it would count from now on.
func (w *Watch) Straight(is bool) {
	w.straight = is
	w.moments, w.taken = w.moments[:0], w.taken[:0]
	if !is && w.now != 0 {
		w.remember()
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
	if w.now != 0 && !w.straight {
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
		if at := w.seats(id); at != nil {
			i, _ := slices.BinarySearchFunc(*at, s, func(a, b *state) int { return cmp.Compare(a.id.Equipment, b.id.Equipment) })
			*at = slices.Insert(*at, i, s)
		}
	}
	return s
}

// seats is where the states of a cause at a tank, or at the site, are kept, nil
// for what is not judged.
func (w *Watch) seats(id aquarium.Identity) *[]*state {
	rank, t := w.ranks[id.Cause], w.places[id.Tank]
	switch {
	case w.causes[rank].name != id.Cause:
		return nil
	case id.Tank == "":
		return &w.own[rank]
	case t != nil:
		return &t.states[rank]
	}
	return nil
}

// compare orders identities: parents before their children, then by place.
func (w *Watch) compare(a, b aquarium.Identity) int {
	return cmp.Or(cmp.Compare(w.ranks[a.Cause], w.ranks[b.Cause]), cmp.Compare(a.Tank, b.Tank), cmp.Compare(a.Equipment, b.Equipment))
}
