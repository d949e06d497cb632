package page

import "lentic/collector/aquarium"

// TankPage is one tank: what is it doing, and is that what it should be doing?
type TankPage struct {
	Frame
	View TankView
	// Recent are alarms of this tank that ended within the stretch drawn
	// (a week is enough); they are marked on the strips.
	Recent []Alarm
	// SiteAlarms are standing alarms of the tank's whole site.
	SiteAlarms []Alarm
	Journal    []aquarium.Entry // of the tank, its site and lentic, newest month
	KH         float64          // alkalinity in force, dKH; 0: not known
	KHAt       aquarium.Instant // of the hand test; 0: from the configuration
	// Learning: its stored weeks are still being learned.
	Learning bool
	// Blind lists causes that cannot be judged here and why, in words.
	Blind []string
	// Usual is what is usual at each hour of the day, by sensor; it may be
	// empty.
	Usual map[aquarium.SensorID]Usual
}

func (*TankPage) name() string { return "tank" }
