package page

import "lentic/collector/aquarium"

// Rounds is the first page: every tank, who needs the keeper first on top.
// It answers: who needs me, why, by when?
type Rounds struct {
	Frame
	Tanks []TankView      // in any order
	Sites []aquarium.Site // to say which site is silent as a whole
	// SiteAlarms are standing alarms of whole sites (Tank empty).
	SiteAlarms []Alarm
}

func (*Rounds) name() string { return "rounds" }

// TankView is one tank as it stands now.
type TankView struct {
	Site   *aquarium.Site
	Tank   *aquarium.Tank
	Alarms []Alarm  // standing, of this tank, in any order
	Latest []Latest // of its sensors, and CO2Estimate where it is known
	// Strips are the last 24 hours of what is drawn: on rounds the lines of the
	// strip Told, on the tank's page all its sensors (and CO2Estimate).
	Strips []Series
	Visit  *aquarium.Entry // the visit under way; nil: none
	Heard  aquarium.Instant
	// Last is when a service visit was last noted or a visit ended; 0: never.
	// On rounds only.
	Last aquarium.Instant
}
