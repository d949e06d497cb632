package daemon

import (
	"time"

	"lentic/alert"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/screen"
	"lentic/web"
)

// office is the desk as the pages see it: the same deeds, in the words web
// asks for.
type office struct{ desk *alert.Desk }

func (o office) Alarms(standing bool, since aquarium.Instant) []aquarium.Alarm {
	as, err := o.desk.Alarms(alert.Filter{Standing: standing, From: since})
	if err != nil {
		return nil
	}
	return as
}

func (o office) Alarm(id aquarium.AlarmID) (aquarium.Alarm, error) { return o.desk.Alarm(id) }

func (o office) Acknowledge(id aquarium.AlarmID, by aquarium.PersonID, note string) error {
	_, err := o.desk.Acknowledge(id, by, note)
	return err
}

func (o office) Shelve(id aquarium.AlarmID, until aquarium.Instant, by aquarium.PersonID, reason string) error {
	_, err := o.desk.Shelve(id, until, by, reason)
	return err
}

func (o office) ByToken(token string) (aquarium.Alarm, aquarium.PersonID, error) {
	return o.desk.ByToken(token)
}

func (o office) AcknowledgeByToken(token, note string) error {
	_, err := o.desk.AcknowledgeByToken(token, note)
	return err
}

func (o office) StartVisit(k aquarium.TankKey, d time.Duration, by aquarium.PersonID, note string) error {
	_, err := o.desk.StartVisit(k, d, by, note)
	return err
}

func (o office) EndVisit(k aquarium.TankKey, by aquarium.PersonID, note string) error {
	_, err := o.desk.EndVisit(k, by, note)
	return err
}

func (o office) HandTest(k aquarium.TankKey, kh float64, at aquarium.Instant, by aquarium.PersonID) error {
	_, err := o.desk.HandTest(k, kh, at, by, "")
	return err
}

func (o office) Serviced(k aquarium.TankKey, at aquarium.Instant, by aquarium.PersonID, note string) error {
	_, err := o.desk.Serviced(k, at, by, note)
	return err
}

func (o office) Journal(k aquarium.TankKey, from, to aquarium.Instant) []aquarium.Entry {
	return o.desk.Journal(k.Site, k.Tank, from, to)
}

func (o office) Electrode(k aquarium.SensorKey) measure.Electrode { return o.desk.Electrode(k) }

func (o office) Interval(k aquarium.SensorKey) time.Duration { return o.desk.Interval(k) }

func (o office) Refused(k aquarium.SensorKey) (screen.Spell, bool) { return o.desk.Refused(k) }

func (o office) Spells(k aquarium.TankKey) (aquarium.Instant, map[aquarium.SensorID][]screen.Spell, bool) {
	return o.desk.Spells(k)
}

func (o office) Outbox(limit int) []web.OutMessage {
	ms, err := o.desk.Outbox(limit)
	if err != nil {
		return nil
	}
	out := make([]web.OutMessage, len(ms))
	for i, m := range ms {
		out[i] = web.OutMessage{
			Alarm: m.Alarm, Priority: m.Priority, To: m.To, By: m.By, Subject: m.Subject, Text: m.Text,
			Written: m.Written, Due: m.NotBefore, Tries: len(m.Attempts), Lost: m.State == alert.Failed,
		}
		if m.State == alert.Delivered {
			out[i].Sent = m.Ended
		}
		if n := len(m.Attempts); n > 0 {
			last := m.Attempts[n-1]
			out[i].Answer = last.Receipt
			if last.Err != "" {
				out[i].Answer = last.Err
			}
		} else if m.Why != "" {
			out[i].Answer = m.Why
		}
	}
	return out
}
