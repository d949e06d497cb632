package main

import (
	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
)

// resent is the memory of a device's client for what is not acknowledged yet. It
// takes and gives copies: after a reconnection the client marks what it takes from
// there as sent before, and with its own memory that may be the very packet which
// another of its goroutines is writing to the connection (paho 1.5.1, client.go,
// resume).
type resent struct{ mqtt.Store }

func newResent() mqtt.Store { return resent{mqtt.NewMemoryStore()} }

func (s resent) Put(key string, p packets.ControlPacket) { s.Store.Put(key, copied(p)) }
func (s resent) Get(key string) packets.ControlPacket    { return copied(s.Store.Get(key)) }

func copied(p packets.ControlPacket) packets.ControlPacket {
	if pub, ok := p.(*packets.PublishPacket); ok && pub != nil {
		own := *pub
		return &own
	}
	return p
}
