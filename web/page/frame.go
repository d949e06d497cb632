package page

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/web/ui"
)

// Frame is what every page carries around its content.
type Frame struct {
	Assets ui.Assets        // hashed names of style and script; nil: plain names
	Now    aquarium.Instant // when the page was made, by the daemon's clock
	Zone   *time.Location   // for times that belong to no site; nil means UTC
	Person string           // who is signed in; empty: nobody needs to
	Viewer bool             // may look and not act: no form is drawn
	// Speed is how much faster than life the demo's clock runs; 0 and 1 are
	// life itself, and nothing is said.
	Speed float64
	// Public is the address people outside reach lentic under, without a
	// slash at its end; printed pages write links out with it. Empty: none.
	Public string
	// Own lists the standing alarms about lentic itself: they stand on top
	// of every page but the texted one, for then its silence proves little.
	Own []Alarm
	// Said is one sentence about what the reader has just done, as
	// "Acknowledged at 02:16.". Empty: nothing.
	Said string
}

func (f *Frame) frame() *Frame { return f }

// Page is one of this package's page structs.
type Page interface {
	frame() *Frame
	name() string // of its template
}

// Alarm is an alarm with the words that belong to it.
type Alarm struct {
	aquarium.Alarm
	Text     string         // the sentence, without a link
	SiteName string         // empty: lentic itself
	TankName string         // empty: the whole site
	Zone     *time.Location // the site's; nil means UTC
	By       string         // name of who acknowledged it; empty: nobody did
	// Heard is the newest reading of the sensor it rests on; 0: none, or
	// not known.
	Heard aquarium.Instant
	Told  []Told // the messages about it, oldest first; only where they are shown
}

// Latest is the newest sample of a sensor. A zero At means that the sensor was
// never heard.
type Latest struct {
	Sensor  aquarium.Sensor
	Value   float64 // in the quantity's first unit
	At      aquarium.Instant
	Quality aquarium.Quality
	// Since is from when on nothing of the sensor has counted, for Quality; 0:
	// not known.
	Since aquarium.Instant
	// Every is the reporting interval, configured or learned; 0: not known.
	// For a sensor that reports changes it is its refresh.
	Every time.Duration
}

// Series is a stretch of one sensor's samples, in buckets or raw, with the
// meaning the API gives them: T is a bucket's start, a step longer than Gap is
// not joined. The four columns have one length; none is a series without data.
type Series struct {
	Sensor         aquarium.Sensor
	T              []aquarium.Instant // rising
	Min, Mean, Max []float64          // in the quantity's first unit
	Gap            time.Duration
	// Poor marks buckets holding nothing but values that are not judged; nil:
	// none.
	Poor []bool
	// Uncounted are those values, and what other buckets have of such.
	Uncounted []Uncounted
}

// Uncounted is one reading that does not count, or those of one bucket.
type Uncounted struct {
	T              aquarium.Instant // of the bucket its start
	Min, Mean, Max float64
	N              int              // readings
	Quality        aquarium.Quality // what most of them are taken for
}

// CO2Estimate is the sensor under which dissolved CO2, computed from pH,
// alkalinity and temperature, is shown: in mg/l.
var CO2Estimate = aquarium.Sensor{ID: "co2-estimate", Quantity: aquarium.Number, Unit: "mg/l"}
