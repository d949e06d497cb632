package detect

import "lentic/collector/aquarium"

// index finds a tank's series by their ids. Causes ask for the same few dozens of
// times at each tick, so it is quicker about it than a map: a table with room
// between, as wide as a power of two.
type index []indexed

type indexed struct {
	id aquarium.SensorID
	of *series
}

func newIndex(all []*series) index {
	n := 4
	for n < 4*len(all) {
		n *= 2
	}
	x := make(index, n)
	for _, s := range all {
		i := x.slot(s.config.ID)
		for x[i].of != nil {
			i = (i + 1) % len(x)
		}
		x[i] = indexed{s.config.ID, s}
	}
	return x
}

// slot is where an id, which is not empty, is looked for first.
func (x index) slot(id aquarium.SensorID) int {
	n := len(id)
	return (n + 3*int(id[0]) + 31*int(id[n-1]) + 7*int(id[n/2])) & (len(x) - 1)
}

// find is nil where there is none of that id.
func (x index) find(id aquarium.SensorID) *series {
	if id == "" {
		return nil
	}
	for i := x.slot(id); ; i = (i + 1) & (len(x) - 1) {
		if s := &x[i]; s.of == nil || s.id == id {
			return s.of
		}
	}
}
