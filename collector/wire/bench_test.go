package wire

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/fxamacker/cbor/v2"

	"lentic/collector/aquarium"
)

var twelve = []aquarium.SensorID{"ph", "water", "level", "flow-a", "flow-b", "valve", "topoff", "store", "refill", "waste", "pump", "heat"}

// plain is what a program would decode a pack into that takes everything on
// trust: no bases worked in, no units, names and times checked.
type plain struct {
	BN string  `json:"bn" cbor:"-2,keyasint,omitempty"`
	BT float64 `json:"bt" cbor:"-3,keyasint,omitempty"`
	N  string  `json:"n" cbor:"0,keyasint,omitempty"`
	U  string  `json:"u" cbor:"1,keyasint,omitempty"`
	V  float64 `json:"v" cbor:"2,keyasint"`
	T  float64 `json:"t" cbor:"6,keyasint,omitempty"`
}

// BenchmarkPack: one message of 12 readings, from bytes to readings, beside the
// library's decoding of the same bytes into a plain struct.
func BenchmarkPack(b *testing.B) {
	tank := aquarium.Tank{ID: "atrium"}
	var text strings.Builder
	var records []plain
	for k, id := range twelve {
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: id, Quantity: aquarium.Number})
		p := plain{N: string(id), V: 6.5 + float64(k)/100}
		if k == 0 {
			p.BN, p.BT = "gw1:", float64(seconds)
			fmt.Fprintf(&text, `[{"bn":"gw1:","bt":%d,"n":"%s","v":%v}`, seconds, id, p.V)
		} else {
			fmt.Fprintf(&text, `,{"n":"%s","v":%v}`, id, p.V)
		}
		records = append(records, p)
	}
	packed, err := cbor.Marshal(records)
	if err != nil {
		b.Fatal(err)
	}
	r := NewRegistry("lentic", []aquarium.Site{{ID: "quillmere-library", Tanks: []aquarium.Tank{tank}}})
	for _, f := range []struct {
		name    string
		payload []byte
		decode  func([]byte, any) error
	}{
		{"JSON", []byte(text.String() + "]"), json.Unmarshal},
		{"CBOR", packed, cbor.Unmarshal},
	} {
		b.Run(f.name+"/plain", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				var rs []plain
				if err := f.decode(f.payload, &rs); err != nil || len(rs) != len(twelve) {
					b.Fatal(len(rs), err)
				}
			}
		})
		b.Run(f.name+"/lentic", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if d := r.Decode(Message{Topic: home, Payload: f.payload, Arrived: arrived}); len(d.Readings) != len(twelve) {
					b.Fatalf("%+v", d)
				}
			}
		})
	}
	b.Run("number/lentic", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			r.Decode(Message{Topic: home + "/ph", Payload: []byte("6.58"), Arrived: arrived})
		}
	})
}
