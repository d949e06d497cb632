package record

import (
	"encoding/binary"
	"math"
	"reflect"
	"testing"

	"lentic/collector/aquarium"
)

// FuzzLog makes readings of the input, and wants them back bit by bit.
func FuzzLog(f *testing.F) {
	f.Add(int64(0), []byte("0123456789abcdef0123456789abcdef"))
	f.Add(int64(math.MaxInt64-5), []byte{})
	f.Fuzz(func(t *testing.T, start int64, data []byte) {
		var want []Logged
		at := aquarium.Instant(start)
		for len(data) >= 11 {
			at += aquarium.Instant(binary.LittleEndian.Uint16(data))
			want = append(want, Logged{Series: uint32(data[1]), Point: Point{
				At: at, Value: math.Float64frombits(binary.LittleEndian.Uint64(data[2:])),
				Unit: aquarium.Unit(data[10:min(len(data), 10+int(data[10]%8))]), Retimed: data[10]&1 == 1,
			}})
			data = data[11:]
		}
		i := 0
		err := DecodeLog(EncodeLog(nil, want), func(l Logged) {
			w := want[i]
			if i++; math.Float64bits(l.Value) != math.Float64bits(w.Value) {
				t.Fatalf("reading %d came back as %v, want %v", i, l, w)
			}
			a, b := l.Point, w.Point
			if a.Value, b.Value = 0, 0; a != b || l.Series != w.Series {
				t.Fatalf("reading %d came back as %v, want %v", i, l, w)
			}
		})
		if err != nil || i != len(want) {
			t.Fatalf("%d of %d came back: %v", i, len(want), err)
		}
	})
}

// FuzzDecode gives every decoder any bytes, once as they are and once under a
// checksum that is right: none may panic, and what decodes must come back the
// same when it is encoded and decoded again.
func FuzzDecode(f *testing.F) {
	cs := columns(3)
	key := BlockKey(aquarium.Instant(cs[0].Times[0]), 1)
	f.Add(key, EncodeBlock(key, 5, cs))
	f.Add(key, EncodeRollups(key, 10, []Rollup{{1, "pH", Fold(nil, 10, cs[0].Times, cs[0].Values, nil)}}))
	f.Add(key, EncodeLog(nil, []Logged{{1, Point{Value: 1}}}))
	f.Add(key, EncodeAside(aquarium.Aside{Gateway: "gw1"}))
	f.Add(key, EncodeConflict(Conflict{Arrived: 1}))
	f.Add(key, EncodeRefusal(aquarium.Refusal{Detail: "d", Payload: []byte("p")}))
	f.Add(key, EncodeUnclaimed(aquarium.Unclaimed{Topic: "t"}))
	f.Fuzz(func(t *testing.T, key, content []byte) {
		decodeAll(key, content)
		DecodeRollups(key, content, 0)
		DecodeLog(content, func(Logged) {})
		DecodeBounds(content)
		DecodeBlock1(nil, aquarium.SensorKey{}, key, Seal(nil, key, content))
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
