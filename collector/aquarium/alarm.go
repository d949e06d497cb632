package aquarium

// Identity tells one alarm from another: what is seen again under the same
// identity is the same alarm.
type Identity struct {
	Site      SiteID       `json:"site"`
	Tank      TankID       `json:"tank"` // empty for a whole site, and for lentic itself
	Cause     Cause        `json:"cause"`
	Equipment EquipmentKey `json:"equipment"`
}

// TankKey is where the alarm is.
func (i Identity) TankKey() TankKey { return TankKey{i.Site, i.Tank} }

func (i Identity) String() string {
	return string(i.Site) + "/" + string(i.Tank) + "/" + string(i.Cause) + "/" + string(i.Equipment)
}

// Evidence is what an alarm rests on: the reading that proves it, what it was
// held against, and the facts that belong to the story.
type Evidence struct {
	Sensor  SensorID `json:"sensor,omitempty"` // whose strip to look at; empty: none
	Value   float64  `json:"value"`
	Unit    Unit     `json:"unit,omitempty"`
	Limit   *float64 `json:"limit,omitempty"`   // what Value was held against, in Unit
	PerHour *float64 `json:"perHour,omitempty"` // the trend, in Unit per hour
	// LastKnown is set when the sensor has gone silent since: Value is the
	// last there was.
	LastKnown bool `json:"lastKnown,omitempty"`
	// Expected is what Value should have been, in Unit, had the machines and
	// the water done what they do when all is well.
	Expected *float64 `json:"expected,omitempty"`
	// HarmIn is how many minutes it takes until fish, floor or plants come to
	// harm if it goes on like this; nil where that cannot be told.
	HarmIn   *float64   `json:"harmIn,omitempty"`
	Facts    []Fact     `json:"facts,omitempty"`
	Excluded []Excluded `json:"excluded,omitempty"`
}

// Excluded is a lookalike: something that would have looked much the same, and
// the number that rules it out.
type Excluded struct {
	What    Lookalike `json:"what"`
	Because Fact      `json:"because"`
}

// Lookalike is what may be taken for a trouble without being one, or for
// another. The wording is package text's.
type Lookalike string

const (
	LookControl     Lookalike = "control"     // the controller's own swing
	LookProbe       Lookalike = "probe"       // a probe that lies
	LookVisit       Lookalike = "visit"       // somebody at work
	LookBurst       Lookalike = "burst"       // a hose that has burst
	LookEvaporation Lookalike = "evaporation" // water that goes into the air
	LookTopOff      Lookalike = "top-off"     // the top-off doing its work
	LookChange      Lookalike = "change"      // a water change that is configured
	LookSplash      Lookalike = "splash"      // waves, a stone put in
	LookStop        Lookalike = "stop"        // a planned or usual stop
	LookPower       Lookalike = "power"       // no mains
	LookRoom        Lookalike = "room"        // the room's own warmth or air
	LookCold        Lookalike = "cold"        // cold feed water
	LookHardness    Lookalike = "hardness"    // alkalinity that has changed
	LookPlants      Lookalike = "plants"      // plants and animals
	LookCylinder    Lookalike = "cylinder"    // an empty cylinder
	LookValve       Lookalike = "valve"       // a valve that does not shut
	LookClock       Lookalike = "clock"       // a clock that is wrong
	LookStore       Lookalike = "store"       // an empty store
	LookSilence     Lookalike = "silence"     // readings that are missing
	LookSite        Lookalike = "site"        // a site that is silent as a whole
	LookFloat       Lookalike = "float"       // a float that closes a little late
	LookRefill      Lookalike = "refill"      // stored water that is being made good
	LookInflow      Lookalike = "inflow"      // more coming in than a pump takes
)

// Fact is one more number or word of the evidence. Names are the ones package
// detect lists; the wording is package text's.
type Fact struct {
	Name  string  `json:"name"`
	Value float64 `json:"value,omitempty"`
	Unit  Unit    `json:"unit,omitempty"`
	Word  string  `json:"word,omitempty"`
}

// Fact finds a fact by name.
func (e *Evidence) Fact(name string) (Fact, bool) {
	for _, f := range e.Facts {
		if f.Name == name {
			return f, true
		}
	}
	return Fact{}, false
}

// Event is what happened to a cause's condition at a tick.
type Event string

const (
	Raised       Event = "raised"
	Returned     Event = "returned"
	Worsened     Event = "worsened"       // the same alarm, more urgent or much further out
	Renamed      Event = "renamed"        // a worse or better name for the same trouble
	Suppressed   Event = "suppressed"     // true, but explained by its parent
	OutOfService Event = "out-of-service" // true or standing, during a visit
	// What it rests on has fallen silent, so that it is last known; and is
	// heard again. Neither is told to anybody.
	ReadingsStopped Event = "readings-stopped"
	ReadingsBack    Event = "readings-back"
)

// Transition is one event of one identity, as the judgement of a tick found it.
// Renamed carries the former cause in From.
type Transition struct {
	At       Instant
	Event    Event
	Identity Identity
	From     Cause // only for Renamed
	Priority Priority
	Since    Instant // when the condition itself began, at or before At
	Evidence Evidence
	Parent   Cause // only for Suppressed
	// Projected is the day something is expected, zero where nothing is.
	Projected Instant
	// PageOnly marks what is shown and told to nobody: in its running-in a tank
	// drifts by itself.
	PageOnly bool
}

// State is an alarm's state in the terms of ISA-18.2 and IEC 62682.
type State string

const (
	Normal                 State = "normal"
	Unacknowledged         State = "unacknowledged"
	Acknowledged           State = "acknowledged"
	ReturnedUnacknowledged State = "returned-unacknowledged"
	Shelved                State = "shelved"
	StateOutOfService      State = "out-of-service"
	StateSuppressed        State = "suppressed"
)

// Standing reports whether an alarm in this state still asks to be looked at.
func (s State) Standing() bool { return s != Normal }

// Alarm is one alarm from its raise until it is normal and answered for, and
// after that its record.
type Alarm struct {
	ID       AlarmID  `json:"id"`
	Identity          // its present name
	Priority Priority `json:"priority"`
	State    State    `json:"state"`
	// Active reports whether the condition is true, whatever the state.
	Active   bool     `json:"active"`
	Since    Instant  `json:"since"` // when the condition began
	Raised   Instant  `json:"raised"`
	Returned Instant  `json:"returned,omitempty"`
	Evidence Evidence `json:"evidence"` // as of the last time it was raised, got worse, fell silent or was heard again
	Parent   Cause    `json:"parent,omitempty"`
	// Record marks an alarm found in late readings, or while lentic was not
	// running, that no longer stood at the newest: nobody was woken for it.
	Record         bool     `json:"record,omitempty"`
	AcknowledgedAt Instant  `json:"acknowledgedAt,omitempty"`
	AcknowledgedBy PersonID `json:"acknowledgedBy,omitempty"`
	Note           string   `json:"note,omitempty"`
	ShelvedUntil   Instant  `json:"shelvedUntil,omitempty"`
	ShelvedBy      PersonID `json:"shelvedBy,omitempty"`
	ShelvedFor     string   `json:"shelvedFor,omitempty"` // the reason given
	Projected      Instant  `json:"projected,omitempty"`
	// PageOnly marks one that nobody is told of; see Transition.
	PageOnly bool `json:"pageOnly,omitempty"`
	// History lists what happened to it, oldest first.
	History []AlarmEvent `json:"history,omitempty"`
}

// AlarmEvent is one line of an alarm's record.
type AlarmEvent struct {
	At   Instant  `json:"at"`
	What string   `json:"what"` // raised, returned, worsened, renamed, acknowledged, shelved, told ...
	By   PersonID `json:"by,omitempty"`
	Note string   `json:"note,omitempty"`
}
