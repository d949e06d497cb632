package page

import "lentic/collector/aquarium"

// Before is what to read before a visit, and to print: what has changed, what
// do I bring? One sheet a tank.
type Before struct {
	Frame
	Sheets []Sheet
	All    bool // the page of all tanks, /before, and not that of one
	// Offers are the tanks to choose from; on the page of all tanks only.
	Offers []Offer
}

// Offer is a tank of which a sheet can be made.
type Offer struct {
	Site   *aquarium.Site
	Tank   *aquarium.Tank
	Last   aquarium.Instant // when somebody was there last; 0: never
	Alarms []Alarm          // standing
	Chosen bool
}

// Sheet is one tank since its last visit.
type Sheet struct {
	Site *aquarium.Site
	Tank *aquarium.Tank
	// Last is when a service visit was last noted or a visit ended; 0: never.
	Last aquarium.Instant
	// From is the start of the stretch shown: Last, else 14 days ago, and
	// never more than 120 days.
	From    aquarium.Instant
	Sensors []Series // From to now, 200 buckets are enough
	Latest  []Latest
	Alarms  []Alarm // raised since From, or standing
	Journal []aquarium.Entry
	KH      float64          // dKH in force; 0: not known
	KHAt    aquarium.Instant // of the hand test; 0: from the configuration
}

func (*Before) name() string { return "before" }
