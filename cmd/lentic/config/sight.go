package config

import "lentic/collector/aquarium"

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

// Sight lists every tank in the order of the file.
func Sight(c *Config) []TankSight { return nil }
