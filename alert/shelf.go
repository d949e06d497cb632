package alert

import (
	"slices"

	"lentic/alert/text"
)

// unshelve ends a shelving whose time is up: what is still true is told again.
func (c *change) unshelve(f *file) {
	a := &f.Alarm
	a.State, _ = unshelves.after(a.State, a.Active)
	f.record(c.now, "shelf ended", "", "")
	a.ShelvedUntil = 0
	if a.Active {
		c.callOut(f, text.StillStanding, c.now)
		return
	}
	c.allClear(f)
}

// overtakeCalls takes back messages that have not left, of an alarm somebody
// has answered for. An all-clear is still owed.
func (c *change) overtakeCalls(f *file, why string) {
	for id, m := range c.d.box {
		if m.Alarm == f.Alarm.ID && m.State == Waiting && m.Kind != text.AllClear {
			m := c.message(id)
			m.end(Overtaken, c.now, why)
			if m.Kind == f.Opening && len(m.Attempts) == 0 { // never heard of it: no all-clear owed
				f.Told = slices.DeleteFunc(f.Told, func(t told) bool { return t == told{m.To, m.By} })
			}
		}
	}
}
