package wire

import (
	"bytes"

	"lentic/collector/aquarium"
)

// What a message may hold at most. Anything larger is refused whole.
const (
	MaxPayload = 256 << 10
	MaxRecords = 5000
	// MaxTaken is the largest payload that a broker takes in order to refuse
	// it properly; beyond it the connection is closed.
	MaxTaken = 1 << 20
	// kept is how much of a refused payload is kept for inspection.
	kept = 1 << 10
)

// Message is one MQTT message as it came in.
type Message struct {
	Topic   string
	Payload []byte
	// Retained marks a stored message handed over on subscribing. A live
	// publish is not one, whatever its RETAIN flag.
	Retained bool
	QoS      byte
	Arrived  aquarium.Instant
	Gateway  aquarium.GatewayID // known by its credentials, else ""
	Source   string             // the connection, for people
	// Refuse, where not empty, says that whoever received the message may
	// not take it, and Why in words: it is refused for that reason alone.
	Refuse aquarium.Reason
	Why    string
}

// Decoded is all that one message holds. A message that was understood in part
// has readings and refusals.
type Decoded struct {
	Readings  []aquarium.Reading
	Aside     []aquarium.Aside
	Unclaimed []aquarium.Unclaimed
	Refused   []aquarium.Refusal
	// Arrival is set where a reading has the message's arrival for its time.
	Arrival bool
}

// Len is the number of things to write.
func (d *Decoded) Len() int {
	return len(d.Readings) + len(d.Aside) + len(d.Unclaimed) + len(d.Refused)
}

func (d *Decoded) refuse(m *Message, why *refusal) {
	payload := why.payload
	if payload == nil {
		payload = m.Payload
	}
	if len(payload) > kept {
		payload = payload[:kept]
	}
	d.Refused = append(d.Refused, aquarium.Refusal{
		Topic:   m.Topic,
		Reason:  why.reason,
		Detail:  why.detail,
		Payload: bytes.Clone(payload), // or a refusal would hold all of a large message
		Arrived: m.Arrived,
		Source:  m.Source,
	})
}
