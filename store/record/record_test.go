package record

import (
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// TestChecksum holds the checksum against the examples of RFC 3720, appendix
// B.4, written down here from memory.
func TestChecksum(t *testing.T) {
	up := make([]byte, 32)
	for i := range up {
		up[i] = byte(i)
	}
	for _, c := range []struct {
		name string
		data []byte
		want uint32 // the RFC prints the bytes in the order of transmission
	}{
		{"32 bytes of zeros", make([]byte, 32), 0x8a9136aa},
		{"32 bytes of ones", bytes.Repeat([]byte{0xff}, 32), 0x62a8ab43},
		{"32 bytes rising", up, 0x46dd794e},
	} {
		if got := checksum(c.data[:7], c.data[7:]); got != c.want {
			t.Errorf("%s: got %08x, want %08x", c.name, got, c.want)
		}
		if got := crc32.Checksum(c.data, castagnoli); got != c.want {
			t.Errorf("%s: whole: got %08x, want %08x", c.name, got, c.want)
		}
	}
}

func TestKeysSortByTime(t *testing.T) {
	times := []aquarium.Instant{math.MinInt64, -1, 0, 1, 1 << 40, math.MaxInt64}
	var before []byte
	for _, series := range []uint32{0, 1, 255, 256, math.MaxUint32} {
		for _, at := range times {
			k := Key(series, at)
			if bytes.Compare(before, k) >= 0 {
				t.Errorf("key of series %d at %d does not sort after the one before", series, at)
			}
			s, a, err := SplitKey(k)
			if s != series || a != at || err != nil {
				t.Errorf("got %d, %d, %v; want %d, %d", s, a, err, series, at)
			}
			before = k
		}
	}
	if _, _, err := SplitKey(before[1:]); !errors.Is(err, ErrCorrupt) {
		t.Errorf("short key: got %v, want ErrCorrupt", err)
	}
}

func block(n int) Block {
	rnd := rand.New(rand.NewPCG(1, uint64(n)))
	at := aquarium.Instant(1_900_000_000_000)
	var b Block
	for i := range n {
		at += 1 + aquarium.Instant(rnd.IntN(1<<20))
		b = append(b, aquarium.Reading{
			At: at, Value: math.Float64frombits(rnd.Uint64()), Retimed: i%3 == 0,
			Unit: aquarium.Unit(fmt.Sprint("u", rnd.IntN(n))),
		})
	}
	return b
}

func TestBlockComesBack(t *testing.T) {
	for _, n := range []int{1, 2, BlockMax - 1, BlockMax} {
		want := block(n)
		key := Key(7, want[0].At)
		v, err := EncodeBlock(key, want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := DecodeBlock(nil, aquarium.SensorKey{}, key, v)
		if err != nil || !equal(got, want) {
			t.Errorf("%d readings: came back different: %v", n, err)
		}
	}
}

// equal compares values bit by bit.
func equal(a, b []aquarium.Reading) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		x, y := a[i], b[i]
		if math.Float64bits(x.Value) != math.Float64bits(y.Value) {
			return false
		}
		x.Value, y.Value = 0, 0
		if x != y {
			return false
		}
	}
	return true
}

func TestBlocksThatCannotBe(t *testing.T) {
	r := func(at aquarium.Instant) aquarium.Reading { return aquarium.Reading{At: at} }
	for _, c := range []struct {
		name string
		rs   Block
	}{
		{"none", nil},
		{"too many", block(BlockMax + 1)},
		{"two at one time", Block{r(1), r(1)}},
		{"falling", Block{r(2), r(1)}},
		{"too far apart", Block{r(0), r(BlockSpan + 1)}},
	} {
		if _, err := EncodeBlock(Key(1, 0), c.rs); err == nil {
			t.Errorf("%s: encoded", c.name)
		}
	}
}

// TestEveryFlippedBit: one bit anywhere in key or value, and the block is
// refused. CRC-32C finds every error of up to three bits at these lengths.
func TestEveryFlippedBit(t *testing.T) {
	want := block(5)
	key := Key(7, want[0].At)
	v, err := EncodeBlock(key, want)
	if err != nil {
		t.Fatal(err)
	}
	whole := append(bytes.Clone(key), v...)
	for i := range len(whole) * 8 {
		bad := bytes.Clone(whole)
		bad[i/8] ^= 1 << (i % 8)
		if _, err := DecodeBlock(nil, aquarium.SensorKey{}, bad[:KeyLen], bad[KeyLen:]); !errors.Is(err, ErrCorrupt) {
			t.Errorf("bit %d: got %v, want ErrCorrupt", i, err)
		}
	}
	for n := range v {
		if _, err := DecodeBlock(nil, aquarium.SensorKey{}, key, v[:n]); !errors.Is(err, ErrCorrupt) {
			t.Errorf("cut to %d bytes: got %v, want ErrCorrupt", n, err)
		}
	}
}

func TestOddComeBack(t *testing.T) {
	k := aquarium.SensorKey{Site: "hotel-sarnbrook", Tank: "-", Sensor: "gw1/mains"}
	r := aquarium.Reading{Sensor: k, At: -5, Value: math.Inf(-1), Unit: "\xff", Retimed: true}
	check := func(name string, got any, err error, want any) {
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: got %+v, %v; want %+v", name, got, err, want)
		}
	}
	a := aquarium.Aside{Reading: r, Gateway: "gw1", Arrived: 9}
	gotA, err := DecodeAside(EncodeAside(a))
	check("aside", gotA, err, a)
	u := aquarium.Unclaimed{Topic: "x/\x00/é", Payload: []byte{0, 1, 2}, Arrived: 3}
	gotU, err := DecodeUnclaimed(EncodeUnclaimed(u))
	check("unclaimed", gotU, err, u)
	f := aquarium.Refusal{Topic: "t", Reason: aquarium.ReasonPack, Detail: "d", Payload: []byte("p"), Arrived: 4, Source: "s"}
	gotF, err := DecodeRefusal(EncodeRefusal(f))
	check("refusal", gotF, err, f)
	c := Conflict{Stands: r, Other: aquarium.Reading{Sensor: k, At: -5, Value: 2}, Arrived: 6}
	gotC, err := DecodeConflict(EncodeConflict(c))
	check("conflict", gotC, err, c)
	gotK, err := DecodeSensor(EncodeSensor(k))
	check("sensor", gotK, err, k)
	f.Payload = bytes.Repeat([]byte("x"), 3000)
	gotF, _ = DecodeRefusal(EncodeRefusal(f))
	if len(gotF.Payload) != RefusedPayload {
		t.Errorf("a long payload is kept with %d bytes, want %d", len(gotF.Payload), RefusedPayload)
	}
}

func TestSealBindsToTheKey(t *testing.T) {
	v := Seal(nil, []byte("a"), []byte("content"))
	if got, err := Open([]byte("a"), v); string(got) != "content" || err != nil {
		t.Errorf("got %q, %v", got, err)
	}
	for _, key := range []string{"b", "", "ac"} {
		if _, err := Open([]byte(key), v); !errors.Is(err, ErrCorrupt) || !strings.Contains(err.Error(), "CRC-32C") {
			t.Errorf("under %q: got %v, want ErrCorrupt naming the checksum", key, err)
		}
	}
}
