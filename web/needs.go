package web

import (
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/measure"
	"lentic/collector/screen"
	"lentic/store/record"
)

// Readings is what the pages need of the store: readings as they were
// received. It may be used by many at once.
type Readings interface {
	// Window calls fn for the readings of k with from <= At < to, oldest
	// first, until it returns false. None is not an error.
	Window(k aquarium.SensorKey, from, to aquarium.Instant, fn func(aquarium.Reading) bool) error
	// Sums calls fn with what those readings come to in stretches of width,
	// aligned to the Unix epoch, oldest first, until it returns false; where
	// their unit changes there is one for each. For long stretches of time it
	// is much faster than Window.
	Sums(k aquarium.SensorKey, from, to aquarium.Instant, width time.Duration, fn func(aquarium.Sum) bool) error
	// Latest and First are the newest and oldest reading of k; false: none.
	Latest(k aquarium.SensorKey) (aquarium.Reading, bool)
	First(k aquarium.SensorKey) (aquarium.Reading, bool)
	// Sensors lists the sensors with readings.
	Sensors() []aquarium.SensorKey
}

// Desk is what the pages need of the alarm desk. It may be used by many at
// once. `by` is the name of an account, empty where nobody needs to sign in.
type Desk interface {
	// Alarms lists the standing alarms, and with standing false also those
	// that ended at or after since.
	Alarms(standing bool, since aquarium.Instant) []aquarium.Alarm
	// Alarm is one alarm, also one that ended long ago;
	// aquarium.ErrUnknownAlarm when there is none.
	Alarm(id aquarium.AlarmID) (aquarium.Alarm, error)
	// Acknowledge and Shelve may be repeated: that changes nothing and is
	// no error. aquarium.ErrUnknownAlarm, aquarium.ErrNotPossible.
	Acknowledge(id aquarium.AlarmID, by aquarium.PersonID, note string) error
	Shelve(id aquarium.AlarmID, until aquarium.Instant, by aquarium.PersonID, reason string) error
	// ByToken is the alarm that a texted link is for, and whom it was sent
	// to; aquarium.ErrUnknownAlarm for a token that is unknown or expired.
	ByToken(token string) (aquarium.Alarm, aquarium.PersonID, error)
	AcknowledgeByToken(token, note string) error

	// StartVisit begins a visit that ends by itself after d.
	StartVisit(k aquarium.TankKey, d time.Duration, by aquarium.PersonID, note string) error
	// EndVisit ends the visit under way; aquarium.ErrNotPossible: none is.
	EndVisit(k aquarium.TankKey, by aquarium.PersonID, note string) error
	// HandTest notes an alkalinity in dKH, counting from at.
	HandTest(k aquarium.TankKey, kh float64, at aquarium.Instant, by aquarium.PersonID) error
	// Serviced notes that the tank was serviced at that time.
	Serviced(k aquarium.TankKey, at aquarium.Instant, by aquarium.PersonID, note string) error
	// Journal lists the entries that concern the tank and lie, or last,
	// within from <= t < to, oldest first.
	Journal(k aquarium.TankKey, from, to aquarium.Instant) []aquarium.Entry
	// Outbox lists the newest messages, newest first, at most limit.
	Outbox(limit int) []OutMessage
	// Electrode is what the calibrations of a pH sensor say of it; the zero
	// one: it has none.
	Electrode(k aquarium.SensorKey) measure.Electrode
	// Interval is the reporting interval of a sensor, configured or
	// learned; 0: not known.
	Interval(k aquarium.SensorKey) time.Duration
	// Refused is the spell of readings that do not count at the moment; false:
	// the sensor's newest reading counts.
	Refused(k aquarium.SensorKey) (screen.Spell, bool)
	// Spells are those of a tank's sensors from a time on that lies about a
	// day back; false: its site is about to be judged anew.
	Spells(k aquarium.TankKey) (from aquarium.Instant, of map[aquarium.SensorID][]screen.Spell, ok bool)
}

// OutMessage is one outgoing message of the desk's outbox.
type OutMessage struct {
	Alarm    aquarium.AlarmID // empty: about none, as the daily mail
	Priority aquarium.Priority
	To       aquarium.PersonID
	By       aquarium.ChannelID
	Subject  string // empty for a text
	Text     string
	Written  aquarium.Instant
	Due      aquarium.Instant // when it may leave, or is tried again
	Sent     aquarium.Instant // when the provider took it; 0: not yet
	Tries    int
	Answer   string // the provider's last answer
	Lost     bool   // given up
}

// Intake is what the pages need to show what could not be taken in. It may be
// used by many at once.
type Intake interface {
	Refused(limit int) []aquarium.Refusal // newest first
	UnclaimedTopics() []record.Topic
	SetAside() []record.SetAside
}
