package aquarium

import "time"

// Instant is a moment in Unix milliseconds: the resolution that the wire and
// the store keep. The zero Instant is 1970 and stands for "not known".
type Instant int64

// Step is the length of one tick of judgement: event time is looked at on
// whole multiples of it since the Unix epoch.
const Step = 10 * time.Second

// Earliest is the first time a reading may carry; older ones come from a clock
// that was never set.
var Earliest = At(time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC))

// Ahead is how far a reading's time may lie in the future.
const Ahead = 10 * time.Minute

// At is t to the millisecond, rounded down.
func At(t time.Time) Instant { return Instant(t.UnixMilli()) }

// Time is the instant in UTC.
func (i Instant) Time() time.Time { return time.UnixMilli(int64(i)).UTC() }

// In is the instant in a site's time zone; a nil location means UTC.
func (i Instant) In(l *time.Location) time.Time {
	if l == nil {
		return i.Time()
	}
	return time.UnixMilli(int64(i)).In(l)
}

// Add is d later.
func (i Instant) Add(d time.Duration) Instant { return i + Instant(d.Milliseconds()) }

// Sub is the time from o to i.
func (i Instant) Sub(o Instant) time.Duration { return time.Duration(i-o) * time.Millisecond }

// Floor is the last multiple of d since the epoch at or before i.
func (i Instant) Floor(d time.Duration) Instant {
	m := Instant(d.Milliseconds())
	r := i % m
	if r < 0 {
		r += m
	}
	return i - r
}

// Ceil is the first multiple of d since the epoch at or after i.
func (i Instant) Ceil(d time.Duration) Instant {
	f := i.Floor(d)
	if f == i {
		return i
	}
	return f.Add(d)
}

func (i Instant) String() string { return i.Time().Format("2006-01-02T15:04:05.000Z07:00") }
