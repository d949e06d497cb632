package detect

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
)

// noted is the journal's entries of one kind, in the order of their times.
func (w *Watch) noted(k aquarium.EntryKind) []aquarium.Entry {
	if w.byKind == nil {
		w.byKind = map[aquarium.EntryKind][]aquarium.Entry{}
		for _, e := range w.journal {
			w.byKind[e.Kind] = append(w.byKind[e.Kind], e)
		}
		for _, es := range w.byKind {
			slices.SortFunc(es, func(a, b aquarium.Entry) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID)) })
		}
	}
	return w.byKind[k]
}

// listened works out, once a tick, whether lentic is not listening now, and
// since when it has been otherwise.
func (v *view) listened() {
	v.isDeaf, v.from = false, v.w.began
	for _, e := range v.w.noted(aquarium.Deaf) {
		if e.At > v.now {
			break
		}
		if e.Site != "" && e.Site != v.w.site.ID {
			continue
		}
		if e.Covers(v.now) {
			v.isDeaf, v.from = true, v.now
			return
		}
		v.from = max(v.from, e.Until)
	}
}

// deaf reports whether lentic was not listening at the tick, and otherwise
// since when it has been: silence counts from there.
func (v *view) deaf() (now bool, since aquarium.Instant) { return v.isDeaf, v.from }

// visitors works out, once a tick, which of a journal of years are the visits that
// anything is asked of.
func (v *view) visitors() {
	for _, e := range v.w.noted(aquarium.Visit) {
		if e.Covers(v.now) || e.Until != 0 && e.Until <= v.now && v.now.Sub(e.Until) < Memory {
			v.visits = append(v.visits, e)
		}
	}
}

// visited reports whether somebody has declared to be working at the tank.
func (v *view) visited(tank aquarium.TankID) bool {
	for _, e := range v.visits {
		if e.Covers(v.now) && e.Concerns(aquarium.TankKey{Site: v.w.site.ID, Tank: tank}) {
			return true
		}
	}
	return false
}
