package daemon

import (
	"context"
	"iter"
	"time"

	"lentic/alert"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/screen"
)

// lookAhead is how far beyond the end is read: the last reading may be held until
// the next says what it is.
const lookAhead = time.Hour

// judged is the tank's samples with their quality. All of its sensors are read,
// whichever are wanted.
func (s *services) judged(ctx context.Context, a ExportArgs, failed *error) iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		wanted := a.Sensor
		a.Sensor = ""
		all, err := s.series(a)
		if err != nil { // it may be reloaded meanwhile
			*failed = err
			return
		}
		*failed = s.screen(ctx, aquarium.TankKey{Site: a.Site, Tank: a.Tank}, all, a.From, a.To, func(v aquarium.Sample) bool {
			return wanted != "" && wanted != v.Sensor.Sensor || yield(v)
		})
	}
}

// screen calls fn with the samples of a tank's sensors, from <= At < to, in the
// order of their times and with their quality, until it returns false. What led up
// to the beginning is read too. aquarium.ErrUnknownTank; ctx may end it.
func (s *services) screen(ctx context.Context, k aquarium.TankKey, sensors []exported, from, to aquarium.Instant, fn func(aquarium.Sample) bool) error {
	site := s.cfg.Load().Site(k.Site)
	if site == nil || site.Tank(k.Tank) == nil {
		return aquarium.ErrUnknownTank
	}
	meaning := make(map[aquarium.SensorKey]*measure.Deriver, len(sensors))
	for _, x := range sensors {
		meaning[x.key] = x.meaning
	}
	more := true
	emit := func(v aquarium.Sample) {
		if more && v.At >= from && v.At < to {
			more = fn(v)
		}
	}
	judge := screen.New(k.Site, *site.Tank(k.Tank))
	var ticked aquarium.Instant
	err := alert.SamplesBy(s.store, func(k aquarium.SensorKey) *measure.Deriver { return meaning[k] }, from.Add(-screen.RunUp), to.Add(lookAhead),
		func(v aquarium.Sample) bool {
			if at := v.At.Floor(aquarium.Step); at != ticked {
				ticked = at
				judge.Flush(at, emit)
				more = more && ctx.Err() == nil
			}
			judge.Take(v, emit)
			return more
		})
	if err == nil {
		err = ctx.Err()
	}
	if err == nil {
		judge.Flush(to.Add(24*time.Hour), emit)
	}
	return err
}
