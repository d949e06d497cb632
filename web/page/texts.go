package page

import "lentic/collector/aquarium"

// Texts is the outbox: each message exactly as it arrives.
type Texts struct {
	Frame
	Messages []Message // newest first
}

// Message is one outgoing message.
type Message struct {
	To       string // the person's name
	By       aquarium.ChannelID
	Subject  string // empty for a text
	Text     string // whole, with its link
	Written  aquarium.Instant
	Due      aquarium.Instant // when it may leave, or is tried again
	Sent     aquarium.Instant // when the provider took it; 0: not yet
	Tries    int
	Answer   string // the provider's last answer
	Lost     bool   // given up
	Alarm    aquarium.AlarmID
	Septets  int // of a text in the GSM 7-bit alphabet; 0: no text
	Priority aquarium.Priority
}

func (*Texts) name() string { return "texts" }
