package record

import (
	"encoding/binary"
	"math"
	"reflect"
	"testing"

	"lentic/collector/aquarium"
)

// FuzzBlock makes readings of the input, and wants them back bit by bit.
func FuzzBlock(f *testing.F) {
	f.Add(int64(0), []byte("0123456789abcdef0123456789abcdef"))
	f.Add(int64(math.MaxInt64-5), []byte{})
	f.Fuzz(func(t *testing.T, start int64, data []byte) {
		var want Block
		at := aquarium.Instant(start)
		for len(data) >= 11 && len(want) < BlockMax {
			step := aquarium.Instant(binary.LittleEndian.Uint16(data))
			if len(want) > 0 {
				step++
			}
			if at > math.MaxInt64-step {
				break
			}
			at += step
			want = append(want, aquarium.Reading{
				At: at, Value: math.Float64frombits(binary.LittleEndian.Uint64(data[2:])),
				Unit: aquarium.Unit(data[10:min(len(data), 10+int(data[10]%8))]), Retimed: data[10]&1 == 1,
			})
			data = data[11:]
		}
		if len(want) == 0 {
			return
		}
		key := Key(3, want[0].At)
		v, err := EncodeBlock(key, want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := DecodeBlock(nil, aquarium.SensorKey{}, key, v)
		if err != nil || !equal(got, want) {
			t.Fatalf("came back as %v, %v; want %v", got, err, want)
		}
	})
}

// FuzzDecode gives every decoder any bytes, once as they are and once under a
// checksum that is right: none may panic, and what decodes must come back the
// same when it is encoded and decoded again.
func FuzzDecode(f *testing.F) {
	rs := block(3)
	key := Key(1, rs[0].At)
	v, err := EncodeBlock(key, rs)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(key, v[sealed:])
	f.Add(key, EncodeAside(aquarium.Aside{Gateway: "gw1"}))
	f.Add(key, EncodeConflict(Conflict{Arrived: 1}))
	f.Add(key, EncodeRefusal(aquarium.Refusal{Detail: "d", Payload: []byte("p")}))
	f.Add(key, EncodeUnclaimed(aquarium.Unclaimed{Topic: "t"}))
	f.Fuzz(func(t *testing.T, key, content []byte) {
		if _, err := DecodeBlock(nil, aquarium.SensorKey{}, key, content); err == nil && checksum(key, content[sealed:]) != binary.LittleEndian.Uint32(content) {
			t.Error("decoded a block with a wrong checksum")
		}
		if rs, err := DecodeBlock(nil, aquarium.SensorKey{}, key, Seal(nil, key, content)); err == nil {
			v, err := EncodeBlock(key, rs)
			if err != nil {
				t.Fatal(err)
			}
			if again, err := DecodeBlock(nil, aquarium.SensorKey{}, key, v); err != nil || !equal(again, rs) {
				t.Errorf("a block came back as %v, %v; want %v", again, err, rs)
			}
		}
		again(t, content, DecodeAside, EncodeAside)
		again(t, content, DecodeUnclaimed, EncodeUnclaimed)
		again(t, content, DecodeConflict, EncodeConflict)
		again(t, content, DecodeSensor, EncodeSensor)
		if len(content) <= RefusedPayload {
			again(t, content, DecodeRefusal, EncodeRefusal)
		}
	})
}

func again[T any](t *testing.T, content []byte, decode func([]byte) (T, error), encode func(T) []byte) {
	x, err := decode(content)
	if err != nil {
		return
	}
	b := encode(x)
	y, err := decode(b)
	// A NaN is not equal to itself, its bytes are.
	if err != nil || !reflect.DeepEqual(x, y) && string(encode(y)) != string(b) {
		t.Errorf("%+v came back as %+v, %v", x, y, err)
	}
}
