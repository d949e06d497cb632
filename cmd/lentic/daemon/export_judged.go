package daemon

import (
	"cmp"
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
// whichever are wanted, and what led up to the beginning.
func (s *services) judged(ctx context.Context, a ExportArgs, failed *error) iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		wanted := a.Sensor
		a.Sensor = ""
		all, err := s.series(a)
		site := s.cfg.Load().Site(a.Site)
		if err != nil || site == nil || site.Tank(a.Tank) == nil { // it may be reloaded meanwhile
			*failed = cmp.Or(err, aquarium.ErrUnknownTank)
			return
		}
		meaning := make(map[aquarium.SensorKey]*measure.Deriver, len(all))
		for _, x := range all {
			meaning[x.key] = x.meaning
		}
		more := true
		emit := func(v aquarium.Sample) {
			if more && v.At >= a.From && v.At < a.To && (wanted == "" || wanted == v.Sensor.Sensor) {
				more = yield(v)
			}
		}
		judge := screen.New(a.Site, *site.Tank(a.Tank))
		var ticked aquarium.Instant
		err = alert.SamplesBy(s.store, func(k aquarium.SensorKey) *measure.Deriver { return meaning[k] }, a.From.Add(-screen.RunUp), a.To.Add(lookAhead),
			func(v aquarium.Sample) bool {
				if at := v.At.Floor(aquarium.Step); at != ticked {
					ticked = at
					judge.Flush(at, emit)
					more = more && ctx.Err() == nil
				}
				judge.Take(v, emit)
				return more
			})
		switch {
		case err != nil:
			*failed = err
		case ctx.Err() != nil:
			*failed = ctx.Err()
		default:
			judge.Flush(a.To.Add(24*time.Hour), emit)
		}
	}
}
