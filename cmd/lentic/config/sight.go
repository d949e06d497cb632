package config

import (
	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// TankSight is what lentic can and cannot see at one tank.
type TankSight struct {
	Site  aquarium.SiteID
	Tank  aquarium.TankID
	Sees  []aquarium.Cause
	Blind []Blindness
}

// Blindness is a cause that cannot be seen there, and why.
type Blindness struct {
	Cause aquarium.Cause
	Why   string
}

// Sight lists every tank in the order of the file: the causes that its sensors
// and equipment let lentic judge, and those they do not. Parts of the equipment
// that no cause of this version looks at are so named too.
func Sight(c *Config) []TankSight {
	var all []TankSight
	for _, s := range c.Sites {
		for _, t := range s.Tanks {
			all = append(all, sightOf(s, t))
		}
	}
	return all
}

func sightOf(s aquarium.Site, t aquarium.Tank) TankSight {
	out := TankSight{Site: s.ID, Tank: t.ID}
	for _, seen := range detect.Sight(s, t) {
		if seen.Blind == "" {
			out.Sees = append(out.Sees, seen.Cause)
		} else {
			out.Blind = append(out.Blind, Blindness{seen.Cause, seen.Blind})
		}
	}
	return out
}
