package aquarium

import (
	"math"
	"time"
)

// Site is a place on somebody else's premises with one or more tanks.
type Site struct {
	ID       SiteID
	Name     string
	Short    string         // what a text with no room for Name calls it; "": what the Name alone suggests
	Timezone *time.Location // never nil once configured
	Hours    Week           // when people are there; empty: not known
	HoursAs  string         // as the keeper wrote it, for pages
	Access   string         // how to get at the tanks, shown beside an alarm
	Contacts []Contact
	Tanks    []Tank // in the order of the configuration
}

// Tank is the tank of that id, or nil.
func (s *Site) Tank(id TankID) *Tank {
	for i := range s.Tanks {
		if s.Tanks[i].ID == id {
			return &s.Tanks[i]
		}
	}
	return nil
}

// Contact is somebody on the premises who can be told.
type Contact struct {
	ID    PersonID
	Name  string
	Phone string
	Email string
	By    ChannelID
}

// Substrate tells whether the tank's floor takes part in its chemistry.
type Substrate string

const (
	Inert  Substrate = "inert"
	Active Substrate = "active" // the CO2 estimate is shown, never judged alone
)

// RunningIn is how long after planting a tank's water is not yet its own.
// Common practice, no source.
const RunningIn = 42 * 24 * time.Hour

// Tank is one planted display tank.
type Tank struct {
	ID            TankID
	Name          string
	Size          Size
	Started       time.Time // midnight in the site's zone; zero: long ago
	Substrate     Substrate
	AlkalinityDKH float64 // until a hand test says otherwise; 0: not known
	Lights        *Span   // nil: not known
	Limits        Limits
	Sensors       []Sensor // in the order of the configuration
	Equipment     Equipment
	Priorities    map[Cause]Priority // where the keeper's differ from the default
}

// Sensor is the sensor of that id, or nil.
func (t *Tank) Sensor(id SensorID) *Sensor {
	for i := range t.Sensors {
		if t.Sensors[i].ID == id {
			return &t.Sensors[i]
		}
	}
	return nil
}

// Priority is the tank's own priority for c, else the cause's default.
func (t *Tank) Priority(c Cause) Priority {
	if p, ok := t.Priorities[c]; ok {
		return p
	}
	return c.Priority()
}

// Size is a tank's inside, in cm, and what stands in the water, in litres.
// Zero means not known.
type Size struct {
	LengthCM, WidthCM, FillCM float64
	DisplacedL                float64
}

// GrossL is the volume up to the working mark in litres, 0 where not known.
func (s Size) GrossL() float64 { return s.LengthCM * s.WidthCM * s.FillCM / 1000 }

// NetL is the water in litres: GrossL less what is displaced, never negative.
func (s Size) NetL() float64 { return math.Max(0, s.GrossL()-s.DisplacedL) }

// LitresPerMM is the water in one millimetre of level, 0 where not known.
func (s Size) LitresPerMM() float64 { return s.LengthCM * s.WidthCM / 10000 }

// Range is a closed interval in the quantity's first unit.
type Range struct{ Lo, Hi float64 }

// Limits are the keeper's own bounds. A nil range or a zero CO2 means that the
// keeper gave none.
type Limits struct {
	PH          *Range
	Temperature *Range  // Cel
	CO2         float64 // mg/l
}

// Sensor is what one sensor measures and how its readings are to be taken.
type Sensor struct {
	ID          SensorID
	Quantity    Quantity
	Unit        Unit   // of readings that carry none; default: the quantity's first
	Topic       string // its own topic; empty: the one of its site, tank and id
	Pointer     string // RFC 6901, into other JSON
	TimePointer string
	TimeUnit    TimeUnit
	Scale       float64 // 0 means 1
	Offset      float64 // added after Scale
	Counter     bool    // counts pulses or a running total; read as a rate
	PerUnit     float64 // counts per unit of quantity
	LitresPerMM float64 // a level used as a volume
	Every       time.Duration
	OnChange    bool
	Refresh     time.Duration // of an on-change sensor
}

// TimeUnit is how a device writes its times.
type TimeUnit string

const (
	Seconds      TimeUnit = "s"
	Milliseconds TimeUnit = "ms"
	RFC3339      TimeUnit = "rfc3339"
)
