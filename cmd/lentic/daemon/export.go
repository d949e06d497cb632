package daemon

import (
	"context"
	"fmt"
	"io"
	"iter"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/wire"
)

// export streams the readings of a tank, sensor by sensor in the order of the
// configuration, each in the order of its times; with their quality, in which
// each sensor bears on the others, in the order of all their times.
// The tank "-" holds what the site's gateways said of themselves.
func export(ctx context.Context, s *services, a ExportArgs, out io.Writer) error {
	series, err := s.series(a)
	if err != nil {
		return err
	}
	var failed error
	rows := s.rows(ctx, series, a.From, a.To, &failed)
	if a.Quality && a.Tank != aquarium.SiteWide {
		rows = s.judged(ctx, a, &failed)
	}
	err = wire.WriteCSV(out, a.Quality, rows)
	if failed != nil {
		return failed
	}
	return err
}

// exported is one sensor to be exported, and what its readings mean.
type exported struct {
	key     aquarium.SensorKey
	meaning *measure.Deriver
}

// series lists what is to be exported.
func (s *services) series(a ExportArgs) ([]exported, error) {
	var all []exported
	if a.Tank == aquarium.SiteWide && s.cfg.Load().Site(a.Site) != nil {
		for _, k := range s.store.Sensors() {
			if k.Site == a.Site && k.Tank == aquarium.SiteWide && (a.Sensor == "" || a.Sensor == k.Sensor) {
				all = append(all, exported{k, measure.ForGateway(k)})
			}
		}
		return all, nil
	}
	k, err := s.tank(a.Site, a.Tank)
	if err != nil {
		return nil, err
	}
	for _, sensor := range s.cfg.Load().Site(a.Site).Tank(a.Tank).Sensors {
		if a.Sensor == "" || a.Sensor == sensor.ID {
			key := aquarium.SensorKey{Site: k.Site, Tank: k.Tank, Sensor: sensor.ID}
			d := meaning(key, sensor, s.desk.Electrode)
			if a.Corrected && a.Sensor != "" && sensor.Quantity != aquarium.PH {
				return nil, UsageError("--corrected: sensor %s measures %s, and only a pH electrode is calibrated", sensor.ID, sensor.Quantity)
			}
			if a.Corrected {
				d.Corrected()
			}
			all = append(all, exported{key, d})
		}
	}
	if len(all) == 0 && a.Sensor != "" {
		return nil, fmt.Errorf("%w: %s/%s", aquarium.ErrUnknownSensor, k, a.Sensor)
	}
	return all, nil
}

func (s *services) rows(ctx context.Context, series []exported, from, to aquarium.Instant, failed *error) iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		for _, x := range series {
			more := true
			err := s.store.Window(x.key, from, to, func(r aquarium.Reading) bool {
				if v, ok := x.meaning.Sample(r); ok {
					more = yield(v) && ctx.Err() == nil
				}
				return more
			})
			if err != nil {
				*failed = err
				return
			}
			if !more {
				*failed = ctx.Err()
				return
			}
		}
	}
}
