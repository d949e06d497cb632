package alert

import (
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// watch is what the desk needs of a detect.Watch.
type watch interface {
	Observe(aquarium.Sample)
	Note(aquarium.Entry)
	Tick(aquarium.Instant) []aquarium.Transition
	Stand([]aquarium.Alarm)
	Recall(*detect.Learned)
	Learned() []*detect.Learned
	Interval(aquarium.SensorKey) time.Duration
	Refused(aquarium.SensorKey) (screen.Spell, bool)
	Spells(aquarium.TankKey) (aquarium.Instant, map[aquarium.SensorID][]screen.Spell, bool)
	Straight(bool)
	Next(aquarium.Instant) aquarium.Instant
}

func newWatch(s aquarium.Site) watch { return detect.New(s) }
