package main

import (
	"os"
	"strconv"
	"strings"
	"time"

	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

type calibrateCommand struct {
	configured
	place
	Sensor      aquarium.SensorID `required:"" help:"The pH sensor's id."`
	Buffer      []string          `required:"" placeholder:"LABEL=READING" help:"What it read in a buffer, as 7.00=6.98: first what the bottle has printed on it. Once for each buffer, at most three."`
	Temperature float64           `default:"25" placeholder:"CEL" help:"Temperature of the buffers; the bottles' own course with it is allowed for."`
	MV          bool              `name:"mv" help:"The readings are mV and not pH."`
	As          string            `enum:",found,left" default:"" placeholder:"found|left" help:"found: read before anything was adjusted. left: after. Without it nothing was adjusted, and both are so."`
	Cleaned     string            `placeholder:"BEFORE=AFTER" help:"What it read in the tank before and after it was cleaned, in pH; it was in the buffers after that."`
	Meter       string            `placeholder:"BEFORE=AFTER" help:"What another meter read in the tank at the same times."`
	At          time.Time         `help:"When it was (RFC 3339); default: now." format:"2006-01-02T15:04:05Z07:00"`
	Note        string            `help:"What was done."`
}

func (c *calibrateCommand) Run(b *base) error {
	cal := aquarium.Calibration{Sensor: c.Sensor, Unit: "pH", Temperature: c.Temperature, State: aquarium.AsState(c.As)}
	if c.MV {
		cal.Unit = "mV"
	}
	for _, s := range c.Buffer {
		label, reading, err := pair("--buffer", s, "7.00=6.98")
		if err != nil {
			return err
		}
		cal.Buffers = append(cal.Buffers, aquarium.Buffer{Label: label, Reading: reading})
	}
	if err := c.cleaning(&cal); err != nil {
		return err
	}
	return c.call(b, "calibrate", daemon.CalibrateArgs{Site: c.Site, Tank: c.Tank, Calibration: cal, At: instant(c.At), Note: c.Note}, nil, os.Stdout)
}

// cleaning reads --cleaned and --meter.
func (c *calibrateCommand) cleaning(cal *aquarium.Calibration) (err error) {
	if c.Cleaned == "" {
		if c.Meter != "" {
			return daemon.UsageError("--meter without --cleaned: want what the sensor read around its cleaning too")
		}
		return nil
	}
	w := &aquarium.Cleaning{}
	if w.Before, w.After, err = pair("--cleaned", c.Cleaned, "6.72=6.64"); err != nil {
		return err
	}
	if c.Meter != "" {
		if w.MeterBefore, w.MeterAfter, err = pair("--meter", c.Meter, "6.68=6.66"); err != nil {
			return err
		}
	}
	cal.Cleaned = w
	return nil
}

// pair reads two numbers with a = between them.
func pair(flag, s, as string) (a, b float64, err error) {
	left, right, ok := strings.Cut(s, "=")
	if ok {
		a, err = strconv.ParseFloat(strings.TrimSpace(left), 64)
	}
	if ok && err == nil {
		b, err = strconv.ParseFloat(strings.TrimSpace(right), 64)
	}
	if !ok || err != nil {
		return 0, 0, daemon.UsageError("%s %q: want two numbers, as %s", flag, s, as)
	}
	return a, b, nil
}
