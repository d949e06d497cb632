package alert

import (
	"cmp"
	"slices"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// Filter chooses alarms. Zero fields choose everything.
type Filter struct {
	Site aquarium.SiteID
	Tank aquarium.TankID
	// Standing leaves out what is over and answered for.
	Standing bool
	// From and To choose alarms that were raised or stood within them; a
	// zero To is now.
	From, To aquarium.Instant
}

func (f Filter) takes(a *aquarium.Alarm) bool {
	switch {
	case f.Site != "" && a.Site != f.Site, f.Tank != "" && a.Tank != f.Tank:
		return false
	case f.Standing && !a.State.Standing():
		return false
	case f.To != 0 && a.Raised >= f.To:
		return false
	}
	return f.From == 0 || a.Active || max(a.Raised, a.Returned) >= f.From
}

// Alarms lists alarms, the worst first: what stands before what is over, by
// priority, then the newest.
func (d *Desk) Alarms(f Filter) ([]aquarium.Alarm, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	var as []aquarium.Alarm
	for _, x := range d.files {
		if f.takes(&x.Alarm) {
			as = append(as, x.Alarm)
		}
	}
	if !f.Standing {
		err := d.o.Ledger.View(func(tx ledger.Tx) error {
			return each(tx, shelfPast, "", func(_ string, x *file) {
				if f.takes(&x.Alarm) {
					as = append(as, x.Alarm)
				}
			})
		})
		if err != nil {
			return nil, err
		}
	}
	slices.SortFunc(as, byUrgency)
	return as, nil
}

// urgency orders states: what asks for somebody first.
var urgency = map[aquarium.State]int{
	aquarium.Unacknowledged:         0,
	aquarium.Acknowledged:           1,
	aquarium.ReturnedUnacknowledged: 2,
	aquarium.Shelved:                3,
	aquarium.StateOutOfService:      4,
	aquarium.StateSuppressed:        5,
	aquarium.Normal:                 6,
}

func byUrgency(a, b aquarium.Alarm) int {
	calm := func(a aquarium.Alarm) int { // an acknowledged alarm is as bad as its priority says
		if urgency[a.State] <= 1 {
			return 0
		}
		return urgency[a.State]
	}
	return cmp.Or(
		cmp.Compare(calm(a), calm(b)),
		cmp.Compare(b.Priority, a.Priority),
		cmp.Compare(urgency[a.State], urgency[b.State]),
		cmp.Compare(b.Raised, a.Raised),
		cmp.Compare(a.ID, b.ID))
}

// Alarm is the alarm of that id, standing or past; any other is
// aquarium.ErrUnknownAlarm.
func (d *Desk) Alarm(id aquarium.AlarmID) (aquarium.Alarm, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f, err := d.look(id)
	if err != nil {
		return aquarium.Alarm{}, err
	}
	return f.Alarm, nil
}

// look finds a file, standing or past. The caller holds d.mu.
func (d *Desk) look(id aquarium.AlarmID) (*file, error) {
	if f, ok := d.files[id]; ok {
		return f, nil
	}
	var f file
	var ok bool
	err := d.o.Ledger.View(func(tx ledger.Tx) (err error) {
		ok, err = tx.Get(shelfPast, string(id), &f)
		return err
	})
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, aquarium.ErrUnknownAlarm
	}
	return &f, nil
}
