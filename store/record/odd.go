package record

import (
	"slices"

	"lentic/collector/aquarium"
)

// What is not a reading is kept one by one. Each pair below encodes and
// decodes the content that Seal and Open wrap; errors are ErrCorrupt.

func appendReading(b []byte, r aquarium.Reading) []byte {
	b = append(b, EncodeSensor(r.Sensor)...)
	b = appendInstant(b, r.At)
	b = appendFloat(b, r.Value)
	b = appendString(b, string(r.Unit))
	if r.Retimed {
		return append(b, 1)
	}
	return append(b, 0)
}

func (r *reader) reading() aquarium.Reading {
	return aquarium.Reading{
		Sensor: aquarium.SensorKey{
			Site: aquarium.SiteID(r.string()), Tank: aquarium.TankID(r.string()), Sensor: aquarium.SensorID(r.string()),
		},
		At: r.instant(), Value: r.float(), Unit: aquarium.Unit(r.string()), Retimed: r.byte() == 1,
	}
}

// EncodeAside writes a record set aside.
func EncodeAside(a aquarium.Aside) []byte {
	b := appendReading(nil, a.Reading)
	b = appendString(b, string(a.Gateway))
	return appendInstant(b, a.Arrived)
}

// DecodeAside is the inverse of EncodeAside.
func DecodeAside(b []byte) (aquarium.Aside, error) {
	r := reader{b: b}
	a := aquarium.Aside{Reading: r.reading(), Gateway: aquarium.GatewayID(r.string()), Arrived: r.instant()}
	return a, r.end()
}

// EncodeUnclaimed writes a message that no sensor has.
func EncodeUnclaimed(u aquarium.Unclaimed) []byte {
	b := appendInstant(nil, u.Arrived)
	b = appendString(b, u.Topic)
	return append(b, u.Payload...)
}

// DecodeUnclaimed is the inverse of EncodeUnclaimed; an empty payload is nil.
func DecodeUnclaimed(b []byte) (aquarium.Unclaimed, error) {
	r := reader{b: b}
	u := aquarium.Unclaimed{Arrived: r.instant(), Topic: r.string()}
	if r.err == nil && len(r.b) > 0 {
		u.Payload = slices.Clone(r.b)
		r.b = nil
	}
	return u, r.end()
}

// EncodeRefusal writes a refusal, of its payload the first RefusedPayload
// bytes.
func EncodeRefusal(f aquarium.Refusal) []byte {
	b := appendInstant(nil, f.Arrived)
	b = appendString(b, string(f.Reason))
	b = appendString(b, f.Source)
	b = appendString(b, f.Topic)
	b = appendString(b, f.Detail)
	return append(b, f.Payload[:min(len(f.Payload), RefusedPayload)]...)
}

// DecodeRefusal is the inverse of EncodeRefusal; an empty payload is nil.
func DecodeRefusal(b []byte) (aquarium.Refusal, error) {
	r := reader{b: b}
	f := aquarium.Refusal{Arrived: r.instant(), Reason: aquarium.Reason(r.string()), Source: r.string(), Topic: r.string(), Detail: r.string()}
	if r.err == nil && len(r.b) > 0 {
		f.Payload = slices.Clone(r.b)
		r.b = nil
	}
	return f, r.end()
}

// EncodeConflict writes a conflict.
func EncodeConflict(c Conflict) []byte {
	b := appendReading(nil, c.Stands)
	b = appendReading(b, c.Other)
	return appendInstant(b, c.Arrived)
}

// DecodeConflict is the inverse of EncodeConflict.
func DecodeConflict(b []byte) (Conflict, error) {
	r := reader{b: b}
	c := Conflict{Stands: r.reading(), Other: r.reading(), Arrived: r.instant()}
	return c, r.end()
}
