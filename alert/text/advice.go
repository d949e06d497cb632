package text

import "lentic/collector/aquarium"

// Advice is what to do about a cause: one act first that can do no harm, what
// comes after it, and what to beware of. It is advice to people on the spot;
// local codes and licensed trades decide.
type Advice struct {
	First    string
	Then     []string
	Cautions []string
}

// Advise is the advice on a cause. An unknown cause gets the one thing that is
// always right: to look.
func Advise(c aquarium.Cause) Advice { return adviceOf(c) }
