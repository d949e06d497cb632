package config

import (
	"slices"

	"lentic/alert/detect"
	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// TankSight is what lentic can and cannot see at one tank.
type TankSight struct {
	Site aquarium.SiteID
	Tank aquarium.TankID
	// Called is what a text calls it, and Short where it has no room for that.
	Called, Short string
	Sees          []aquarium.Cause
	Blind         []Blindness
}

// Blindness is a cause that cannot be seen there, and why.
type Blindness struct {
	Cause aquarium.Cause
	Why   string
}

// Sight lists every tank in the order of the file: the causes that its sensors
// and equipment let lentic judge, and those they do not. Parts of the equipment
// that no cause of this version looks at are so named too. The file does not
// tell calibrations: what needs one is blind until then, and says so.
func Sight(c *Config) []TankSight {
	var all []TankSight
	for _, s := range c.Sites {
		for _, t := range s.Tanks {
			all = append(all, SightOf(s, t, nil))
		}
	}
	return all
}

// SightOf is Sight of one tank, where calibrated tells which of its sensors have
// a calibration in force; nil: none is known.
func SightOf(s aquarium.Site, t aquarium.Tank, calibrated func(aquarium.SensorID) bool) TankSight {
	out := TankSight{Site: s.ID, Tank: t.ID}
	out.Called, out.Short = text.Place(s, t.ID)
	// A sensor whose readings have no meaning is as good as none.
	real := t
	real.Sensors = slices.DeleteFunc(slices.Clone(t.Sensors), func(x aquarium.Sensor) bool {
		return underived(x) && (calibrated == nil || !calibrated(x.ID))
	})
	whole := detect.Sight(s, t)
	for i, seen := range detect.Sight(s, real) {
		switch {
		case seen.Blind == "":
			out.Sees = append(out.Sees, seen.Cause)
		case whole[i].Blind == "":
			out.Blind = append(out.Blind, Blindness{seen.Cause, noPH})
		default:
			out.Blind = append(out.Blind, Blindness{seen.Cause, seen.Blind})
		}
	}
	return out
}

// noPH is why a pH in millivolts tells nothing yet.
const noPH = "pH in mV tells nothing until its electrode's calibration is entered by `lentic calibrate`"

// underived reports whether nothing is derived from what a sensor sends without
// a calibration.
func underived(s aquarium.Sensor) bool {
	return s.Quantity == aquarium.PH && s.Unit == "mV"
}
