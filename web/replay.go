package web

import (
	"errors"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// What a replay sends at once, and in all: beyond that /api/v1/readings is the
// better way.
const (
	replayChunk = 500
	maxReplay   = 1_000_000
)

var errTooMuch = errors.New("more than a million readings to replay")

// published is how long after its commit a reading may still come by the feed.
// It takes milliseconds; nobody waits a minute.
const published = time.Minute

// replayed remembers what a replay has sent, for as long as the feed may bring
// it again.
type replayed struct {
	at     map[aquarium.SensorKey][]aquarium.Instant // rising
	alarms map[aquarium.AlarmID]aquarium.Alarm
	done   time.Time // when the replay ended
}

func (p *replayed) has(v aquarium.Sample) bool {
	_, found := slices.BinarySearch(p.at[v.Sensor], v.At)
	return found
}

// stale reports whether an alarm from the feed is no newer than what was sent
// of it.
func (p *replayed) stale(a aquarium.Alarm) bool {
	sent, ok := p.alarms[a.ID]
	if !ok {
		return false
	}
	if len(a.History) != len(sent.History) {
		return len(a.History) < len(sent.History)
	}
	return a.State == sent.State && a.Priority == sent.Priority && a.Cause == sent.Cause && a.Active == sent.Active
}

func (p *replayed) forget(now time.Time) {
	if now.Sub(p.done) > published {
		p.at, p.alarms = nil, nil
	}
}

// replay sends what was stored since, sensor by sensor, oldest first, and the
// alarms that something has happened to.
func (st *stream) replay(missed []aquarium.Sample) error {
	st.sent.at = map[aquarium.SensorKey][]aquarium.Instant{}
	st.sent.alarms = map[aquarium.AlarmID]aquarium.Alarm{}
	late := map[aquarium.SensorKey][]aquarium.Sample{}
	for _, v := range missed {
		late[v.Sensor] = append(late[v.Sensor], v)
	}
	n := 0
	for _, src := range st.sources() {
		var chunk []any
		add := func(v aquarium.Sample) error {
			if n++; n > maxReplay {
				return errTooMuch
			}
			st.sent.at[v.Sensor] = append(st.sent.at[v.Sensor], v.At)
			if chunk = append(chunk, st.item(v)); len(chunk) < replayChunk {
				return nil
			}
			err := st.send(chunk)
			chunk = chunk[:0]
			return err
		}
		slices.SortFunc(late[src.key], func(a, b aquarium.Sample) int { return int(a.At - b.At) })
		var bad error
		for _, v := range late[src.key] {
			if bad == nil {
				bad = add(v)
			}
		}
		err := src.each(st.since, func(v aquarium.Sample) bool {
			if bad == nil {
				bad = add(v)
			}
			return bad == nil
		})
		if err := errors.Join(bad, err, st.send(chunk)); err != nil {
			return err
		}
	}
	st.sent.done = st.s.Now()
	return st.replayAlarms()
}

func (st *stream) replayAlarms() error {
	var items []any
	for _, a := range st.s.Desk.Alarms(false, st.since) {
		if st.wants(item{alarm: &a}) && lastEvent(a) >= st.since {
			st.sent.alarms[a.ID] = a
			items = append(items, liveAlarm{st.scene.answerOf(a)})
		}
	}
	return st.send(items)
}

// lastEvent is when something last happened to an alarm.
func lastEvent(a aquarium.Alarm) aquarium.Instant {
	t := max(a.Raised, a.Returned, a.AcknowledgedAt)
	for _, e := range a.History {
		t = max(t, e.At)
	}
	return t
}

// source is a series that the stream replays.
type source struct {
	key  aquarium.SensorKey
	each func(since aquarium.Instant, fn func(aquarium.Sample) bool) error
}

// endOfTime is beyond every reading's time.
const endOfTime = aquarium.Instant(1) << 62

func (st *stream) sources() []source {
	var out []source
	for _, site := range st.scene.seen(st.v) {
		for i := range site.Tanks {
			t := &site.Tanks[i]
			if !st.wants(item{sample: aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: t.ID}}}) {
				continue
			}
			told := &verdicts{} // as far as the watch remembers
			_, told.of, _ = st.s.Desk.Spells(aquarium.TankKey{Site: site.ID, Tank: t.ID})
			for _, sensor := range t.Sensors {
				k := aquarium.SensorKey{Site: site.ID, Tank: t.ID, Sensor: sensor.ID}
				out = append(out, source{k, func(since aquarium.Instant, fn func(aquarium.Sample) bool) error {
					return st.s.samples(k, sensor, since, endOfTime, told.mark(k.Sensor, fn))
				}})
			}
			if e, ok := st.s.estimator(site, t); ok {
				e.told = told
				out = append(out, source{e.key("co2-estimate"), func(since aquarium.Instant, fn func(aquarium.Sample) bool) error {
					return st.s.estimates(e, since, endOfTime, fn)
				}})
			}
		}
	}
	return out
}

// startEstimates prepares the CO2 estimates that follow the stream's pH.
func (st *stream) startEstimates() {
	st.co2 = map[aquarium.TankKey]*estimator{}
	for _, site := range st.scene.seen(st.v) {
		for i := range site.Tanks {
			k := aquarium.TankKey{Site: site.ID, Tank: site.Tanks[i].ID}
			if !st.wants(item{sample: aquarium.Sample{Sensor: aquarium.SensorKey{Site: k.Site, Tank: k.Tank}}}) {
				continue
			}
			if e, ok := st.s.estimator(site, &site.Tanks[i]); ok {
				if v, ok := st.s.newest(e.key(e.temp.ID), e.temp); ok {
					e.warmth(v)
				}
				st.co2[k] = e
			}
		}
	}
}

// fresh is what the feed brought, without what the replay has sent already, and
// with the CO2 that follows from it.
func (st *stream) fresh(items []item) []any {
	var out []any
	refused := st.refusals()
	for _, it := range items {
		if it.alarm != nil {
			if !st.sent.stale(*it.alarm) {
				delete(st.sent.alarms, it.alarm.ID)
				out = append(out, liveAlarm{st.scene.answerOf(*it.alarm)})
			}
			continue
		}
		if st.sent.has(it.sample) {
			continue
		}
		x := st.item(it.sample)
		x.NotCounted = refused(it.sample.Sensor)
		out = append(out, x)
		if x.NotCounted != nil {
			continue // nothing follows from it
		}
		if v, ok := st.derived(it.sample); ok && !st.sent.has(v) {
			out = append(out, st.item(v))
		}
	}
	return out
}

// refusals tells of each sensor why it does not count at the moment, nil where it
// does. The desk is asked once for each.
func (st *stream) refusals() func(aquarium.SensorKey) *refusedAnswer {
	told := map[aquarium.SensorKey]*refusedAnswer{}
	return func(k aquarium.SensorKey) *refusedAnswer {
		a, ok := told[k]
		if ok {
			return a
		}
		site := st.scene.site(k.Site)
		if x, is := st.s.Desk.Refused(k); is && site != nil {
			a = st.s.refused(x.Quality, x.From, site.Timezone)
		}
		told[k] = a
		return a
	}
}

// derived is the CO2 that follows from a pH.
func (st *stream) derived(v aquarium.Sample) (aquarium.Sample, bool) {
	e := st.co2[v.Sensor.TankKey()]
	if e == nil {
		return aquarium.Sample{}, false
	}
	switch v.Sensor.Sensor {
	case e.temp.ID:
		e.warmth(v)
	case e.ph.ID:
		return e.estimate(v)
	}
	return aquarium.Sample{}, false
}
