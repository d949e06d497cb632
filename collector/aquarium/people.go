package aquarium

import "time"

// Person is somebody who can be told.
type Person struct {
	ID       PersonID
	Name     string
	Phone    string // E.164, with its plus sign
	Email    string
	Quiet    *Span          // low and medium wait until it ends; never high
	Timezone *time.Location // of Quiet and digests; never nil once configured
}

// Rung is one step of a call-out ladder.
type Rung struct {
	After  time.Duration // from the raise
	Tell   PersonID
	By     ChannelID
	Repeat time.Duration // 0: once
	Digest *Clock        // nil: at once; else gathered until that time of day
}

// CallOut is the ladder for each priority. Acknowledging an alarm, or its
// return to normal, ends its ladder.
type CallOut map[Priority][]Rung
