package rota

import "lentic/collector/aquarium"

// Outgoing is one message ready to leave: what a channel needs and no more.
type Outgoing struct {
	// ID stays the same when a message is sent again, so that a provider
	// who looks at it can drop the second.
	ID      string
	To      aquarium.Person
	Subject string // for mail; a text has none
	Text    string
}
