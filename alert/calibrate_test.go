package alert

import (
	"errors"
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// ideal is what an ideal electrode gives at 25 Cel.
func ideal() aquarium.Calibration {
	return aquarium.Calibration{Sensor: "ph", Unit: "mV", Temperature: 25,
		Buffers: []aquarium.Buffer{{Label: 7, Reading: 0}, {Label: 4.01, Reading: 177}}}
}

// A calibration for an earlier time gives stored millivolts a meaning, and what
// they say is found for the record: at once, and at the next start where the
// process ended before.
func TestCalibrationIsJudgedFromItsTime(t *testing.T) {
	for _, crash := range []bool{false, true} {
		inWorld(t, func(w *world) {
			w.history.mv = true
			w.up()
			w.flow(900)
			w.pass(3 * time.Hour)
			w.history.put(aquarium.Reading{Sensor: sensor("ph"), At: w.at().Add(-2 * time.Hour), Value: 100}) // pH 5.3
			w.history.put(aquarium.Reading{Sensor: sensor("ph"), At: w.at().Add(-time.Hour), Value: 10})
			w.pass(time.Minute)
			if rs := w.records(); len(rs) != 0 {
				t.Fatalf("crash %v, not calibrated: got %d records, want none", crash, len(rs))
			}
			if _, err := w.desk.Calibrate(tankKey, ideal(), w.at().Add(-150*time.Minute), "", ""); err != nil {
				t.Fatal(err)
			}
			if crash {
				w.ledger.fail = w.ledger.n + 1
				w.down()
				w.ledger.fail = 0
				w.up()
			}
			w.pass(time.Minute)
			if rs := w.records(); len(rs) != 1 || rs[0].Returned.Sub(rs[0].Raised) != time.Hour {
				t.Errorf("crash %v: record: got %+v, want the hour under pH 6", crash, rs)
			}
			w.wantTexts("keeper", 0)
			if cal, ok := w.desk.Electrode(sensor("ph")).InForce(w.at()); !ok {
				t.Errorf("crash %v: no calibration is in force", crash)
			} else if s, known := cal.Slope(); !known || math.Abs(s-100) > 0.2 {
				t.Errorf("crash %v: slope %g", crash, s)
			}
			w.pass(5 * time.Minute)
			var left int
			if err := w.ledger.View(countShelf(shelfUnjudged, &left)); err != nil || left != 0 {
				t.Errorf("crash %v: unjudged: %d left, %v", crash, left, err)
			}
		})
	}
}

func TestCalibrationRefused(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		for _, c := range []struct {
			name   string
			tank   aquarium.TankKey
			change func(c *aquarium.Calibration)
			at     aquarium.Instant
			want   error
		}{
			{"another site", aquarium.TankKey{Site: "x", Tank: atrium}, nil, 0, aquarium.ErrUnknownSite},
			{"another tank", aquarium.TankKey{Site: library, Tank: "x"}, nil, 0, aquarium.ErrUnknownTank},
			{"no tank", aquarium.TankKey{Site: library}, nil, 0, aquarium.ErrUnknownTank},
			{"another sensor", tankKey, func(c *aquarium.Calibration) { c.Sensor = "x" }, 0, aquarium.ErrUnknownSensor},
			{"no pH", tankKey, func(c *aquarium.Calibration) { c.Sensor = "flow-a" }, 0, aquarium.ErrNotPossible},
			{"no buffer", tankKey, func(c *aquarium.Calibration) { c.Buffers = nil }, 0, aquarium.ErrNotPossible},
			{"hot buffers", tankKey, func(c *aquarium.Calibration) { c.Temperature = 70 }, 0, aquarium.ErrNotPossible},
			{"the wrong way round", tankKey, func(c *aquarium.Calibration) { c.Buffers[1].Reading = -177 }, 0, aquarium.ErrNotPossible},
			{"still to come", tankKey, nil, w.at().Add(time.Hour), aquarium.ErrNotPossible},
		} {
			cal := ideal()
			if c.change != nil {
				c.change(&cal)
			}
			if _, err := w.desk.Calibrate(c.tank, cal, c.at, "", ""); !errors.Is(err, c.want) {
				t.Errorf("%s: got %v, want %v", c.name, err, c.want)
			}
		}
		if es := w.desk.Journal("", "", 0, 0); len(es) != 0 {
			t.Errorf("the journal has %d entries, want none", len(es))
		}
	})
}
