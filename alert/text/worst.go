package text

import "lentic/collector/aquarium"

// Finding is the longest message one cause can make at one tank.
type Finding struct {
	Tank    aquarium.TankID // empty: the whole site
	Cause   aquarium.Cause
	Septets int    // what it would take with nothing cut
	Cut     int    // septets the tank's and the site's name lose
	Dropped string // what does not fit even then: "", "trend", "act" or "link"
	Message string // as it would arrive
}

// Worst is the longest message of every tank and cause of a site, with a link
// of that many septets (0: none), the worst first.
func Worst(s aquarium.Site, link int) []Finding { return worst(s, link) }

func worst(s aquarium.Site, link int) []Finding { return nil }
