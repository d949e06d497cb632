package page

import "lentic/collector/aquarium"

// Visit is for whoever stands at the tank: say so, say when done, note a hand
// test. Its forms post to /visit/{site}/{tank} with act:
//
//	start     for (30m, 1h, 2h, 4h), note
//	end       note
//	hand-test kh (dKH), at (empty: now; else 2006-01-02T15:04 in the site's zone)
//	serviced  on (2006-01-02; empty: today), note
type Visit struct {
	Frame
	Site    *aquarium.Site
	Tank    *aquarium.Tank
	Visit   *aquarium.Entry  // under way; nil: none
	Journal []aquarium.Entry // newest first
	KH      float64
	KHAt    aquarium.Instant
	// Problem is what was wrong with the form just sent, and Act which; the
	// values typed are given back.
	Problem, Act string
	Typed        map[string]string
}

func (*Visit) name() string { return "visit" }
