package page

import (
	"time"

	"lentic/collector/aquarium"
)

// Intake shows what arrived and could not be taken: is anything being lost?
type Intake struct {
	Frame
	Refused   []aquarium.Refusal // newest first
	Unclaimed []UnclaimedTopic   // newest first
	Aside     []AsideGroup
	Heard     aquarium.Instant // the newest reading of all; 0: none ever
}

// UnclaimedTopic is a topic no sensor has, with what it last said.
type UnclaimedTopic struct {
	Topic       string
	Messages    int
	First, Last aquarium.Instant // arrivals
	Payload     []byte           // of the last, may be cut
}

// AsideGroup is the records of one gateway set aside for their times.
type AsideGroup struct {
	Site     string // its name
	Gateway  aquarium.GatewayID
	Records  int
	Claimed  aquarium.Instant // the newest time claimed
	Arrived  aquarium.Instant // when that arrived
	Off      time.Duration    // Claimed less Arrived
	Sensors  []aquarium.SensorKey
	Released bool
}

func (*Intake) name() string { return "intake" }
