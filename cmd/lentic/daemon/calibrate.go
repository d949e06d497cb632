package daemon

import (
	"context"
	"fmt"
	"io"
	"math"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/water"
)

// calibrate keeps what an electrode gave in buffers, and says what that means.
func calibrate(_ context.Context, s *services, a CalibrateArgs, out io.Writer) error {
	k, err := s.tank(a.Site, a.Tank)
	if err != nil {
		return err
	}
	sensor := s.cfg.Load().Site(a.Site).Tank(a.Tank).Sensor(a.Calibration.Sensor)
	if sensor == nil {
		return fmt.Errorf("%w: %s/%s", aquarium.ErrUnknownSensor, k, a.Calibration.Sensor)
	}
	c := a.Calibration
	if err := sensible(*sensor, c); err != nil {
		return err
	}
	at, err := s.at(a.At)
	if err != nil {
		return err
	}
	if _, err := s.desk.Calibrate(k, c, at, "", a.Note); err != nil {
		return err
	}
	s.past.forget(k, 0) // an earlier one may mean something else by it too
	r := report{out: out, c: c, x: s.desk.Electrode(aquarium.SensorKey{Site: k.Site, Tank: k.Tank, Sensor: c.Sensor})}
	r.line("%s/%s, %s:", k, c.Sensor, s.local(a.Site, at))
	r.buffers()
	r.electrode(at)
	r.errors(at)
	r.follows(*sensor, s.local(a.Site, at))
	return r.err
}

// Numbers that can only be a slip of the hand: refused with what to do. Common
// practice, no source.
const (
	mostBuffers = 3
	mostPH      = 14
)

func sensible(sensor aquarium.Sensor, c aquarium.Calibration) error {
	switch {
	case sensor.Quantity != aquarium.PH:
		return UsageError("--sensor %s measures %s: want a sensor of pH", sensor.ID, sensor.Quantity)
	case len(c.Buffers) == 0 || len(c.Buffers) > mostBuffers:
		return UsageError("%d buffers: want one to %d", len(c.Buffers), mostBuffers)
	case sensor.Unit == "mV" && c.Unit != "mV":
		return UsageError("sensor %s sends mV: want what it gave in the buffers in mV, with --mv", sensor.ID)
	}
	pH := []float64{}
	if w := c.Cleaned; w != nil {
		pH = append(pH, w.Before, w.After, w.MeterBefore, w.MeterAfter)
	}
	for _, b := range c.Buffers {
		pH = append(pH, b.Label)
		if c.Unit != "mV" {
			pH = append(pH, b.Reading)
		}
	}
	for _, v := range pH {
		if !(v >= 0 && v <= mostPH) {
			return UsageError("%g is no pH: want 0 to %d; readings in mV take --mv", v, mostPH)
		}
	}
	former, err := water.Ideal(water.Celsius(c.Temperature))
	if err != nil {
		return UsageError("--temperature: %v", err)
	}
	if _, err := measure.Curve(former, c); err != nil {
		return UsageError("--buffer: %v", err)
	}
	return nil
}

// report says what a calibration means, until a line cannot be written.
type report struct {
	out io.Writer
	c   aquarium.Calibration
	x   measure.Electrode
	err error
}

func (r *report) line(format string, a ...any) {
	if r.err == nil {
		_, r.err = fmt.Fprintf(r.out, format+"\n", a...)
	}
}

// buffers says what each bottle was worth, and what was read in it.
func (r *report) buffers() {
	for _, b := range r.c.Buffers {
		worth, err := measure.Worth(b, water.Celsius(r.c.Temperature))
		if err != nil {
			continue
		}
		if _, known := water.Labelled(water.PH(b.Label)); !known && r.c.Temperature != 25 {
			r.line("  buffer %.2f: taken for what it says, for its course with temperature is not known here; read %g %s", b.Label, b.Reading, r.c.Unit)
			continue
		}
		r.line("  buffer %.2f: worth pH %.3f at %g Cel; read %g %s", b.Label, float64(worth), r.c.Temperature, b.Reading, r.c.Unit)
	}
}

// electrode judges slope and offset.
func (r *report) electrode(at aquarium.Instant) {
	curve, ok := r.x.Told(at, r.c.Unit)
	if !ok {
		return
	}
	slope := "slope taken as ideal: one buffer does not tell it"
	if s, known := curve.Slope(); known {
		slope = fmt.Sprintf("slope %.1f %% of the Nernst slope", s)
		if len(r.c.Buffers) == 1 {
			slope += ", from earlier buffers"
		}
	}
	advice := map[water.Condition]string{
		water.ElectrodeGood:         "good",
		water.ElectrodeAcceptable:   "acceptable: it ages; clean it and have another at hand",
		water.ElectrodeUnacceptable: "unacceptable: clean it and calibrate again, else replace it",
	}
	offset := math.Round(10*float64(curve.Offset()))/10 + 0 // no minus before nothing
	if r.c.Unit != "mV" {
		slope += ", as the instrument is set"
	}
	r.line("  electrode: %s, offset %+.1f mV at pH 7: %s", slope, offset, advice[curve.Condition()])
}

// errors says how far off it was, part by part, and whether that matters.
func (r *report) errors(at aquarium.Instant) {
	if r.c.State == aquarium.AsLeft {
		return
	}
	former, known := r.x.InForce(at - 1)
	k := measure.CheckOf(r.c, former, known)
	if r.c.Unit == "mV" && !known {
		return // nothing was derived that could be off
	}
	parts := fmt.Sprintf("drift %+.2f pH", float64(k.Drift()))
	if r.c.Cleaned != nil {
		parts = fmt.Sprintf("fouling %+.2f, drift %+.2f: %+.2f pH", float64(k.Fouling()), float64(k.Drift()), float64(k.Total()))
	}
	due := "within 0.2, where a record needs no correction"
	if water.Due(k.Size()) {
		due = "over 0.2: a record needs its correction"
	}
	r.line("  to be added: %s; %s; a record with it is rated %s", parts, due, water.Rate(k.Size()))
	// CO2 goes with 10^-pH, so that its estimate is off by 10 to the correction.
	switch off := 100 * (math.Pow(10, float64(k.Total())) - 1); {
	case off >= 1:
		r.line("  CO2 estimated from it was %.0f %% too high at the end", off)
	case off <= -1:
		r.line("  CO2 estimated from it was %.0f %% too low at the end", -off)
	}
}

// follows says what becomes of readings by it.
func (r *report) follows(sensor aquarium.Sensor, at string) {
	switch {
	case r.c.Unit != "mV":
		r.line("Readings stay as received. `lentic export --corrected` and the API's corrected=true spread the error back to the last calibration.")
	case r.c.State == aquarium.AsFound:
		r.line("Readings in mV keep the calibration they had: enter what it gave afterwards with --as left.")
	default:
		r.line("Readings in mV are taken by it from %s on, those that are stored included.", at)
	}
	if sensor.Unit != "mV" && r.c.Unit == "mV" {
		r.line("Sensor %s sends pH unless a reading says mV: those it does not concern.", sensor.ID)
	}
}
