package record

import (
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"lentic/collector/aquarium"
	"lentic/store/column"
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

// columns are n readings of each of three series, two of which share times,
// in odd units and values.
func columns(n int) []Column {
	rnd := rand.New(rand.NewPCG(1, uint64(n)))
	var cs []Column
	for i := range uint32(4) {
		c := Column{Series: 7 + i/2*3, Unit: aquarium.Unit(fmt.Sprint("u", i%2))}
		at := int64(1_900_000_000_000)
		for j := range n {
			at += 1 + rnd.Int64N(1<<20)
			c.Times = append(c.Times, at)
			c.Values = append(c.Values, math.Float64frombits(rnd.Uint64()))
			if i == 1 {
				c.Retimed = append(c.Retimed, uint8(j%2))
			}
		}
		if i == 3 {
			c.Times = cs[2].Times
		}
		cs = append(cs, c)
	}
	return cs
}

func decodeAll(key, value []byte) (through uint64, cs []Column, err error) {
	b, err := OpenBlock(key, value)
	if err != nil {
		return 0, nil, err
	}
	for _, p := range b.Columns {
		c, err := b.Column(p, Column{})
		if err != nil {
			return 0, nil, err
		}
		cs = append(cs, c)
	}
	return b.Through, cs, nil
}

// bits of the columns, for NaN is not equal to itself.
func bits(cs []Column) string {
	var b []byte
	for _, c := range cs {
		b = fmt.Appendf(b, "%d %q %v %v", c.Series, c.Unit, c.Times, c.Retimed)
		for _, v := range c.Values {
			b = fmt.Appendf(b, " %x", math.Float64bits(v))
		}
	}
	return string(b)
}

func TestBlockComesBack(t *testing.T) {
	for _, n := range []int{1, 2, 128, 4320} {
		want := columns(n)
		key := BlockKey(aquarium.Instant(want[0].Times[0]), 7)
		v := EncodeBlock(key, 99, want)
		through, got, err := decodeAll(key, v)
		if err != nil || through != 99 || bits(got) != bits(want) {
			t.Errorf("%d readings: came back different: %v", n, err)
		}
	}
}

// TestTimesAreShared: readings of one message say their time once.
// TestFront: what is read of a column up to a time is its front, whether the
// guess was good or not, and at least one reading.
func TestFront(t *testing.T) {
	const n = 1000
	all := columns(n)
	key := BlockKey(aquarium.Instant(all[0].Times[0]), 7)
	b, err := OpenBlock(key, EncodeBlock(key, 99, all))
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range b.Columns {
		for _, k := range []int{0, 1, 499, 500, n - 1, n} {
			for _, guess := range []int{0, 1, 128, 510, n, 2 * n} {
				want := all[i]
				until := want.Times[n-1] + 1
				if k < n {
					until = want.Times[k]
				}
				m := max(k, 1)
				want.Times, want.Values = want.Times[:m], want.Values[:m]
				if want.Retimed != nil {
					want.Retimed = want.Retimed[:m]
				}
				got, err := b.Front(p, aquarium.Instant(until), guess, Column{})
				if err != nil || bits([]Column{got}) != bits([]Column{want}) {
					t.Fatalf("column %d, %d before, guessed %d: got %d readings, %v, or they differ", i, k, guess, len(got.Times), err)
				}
			}
		}
	}
}

func TestTimesAreShared(t *testing.T) {
	cs := columns(1000)
	key := BlockKey(0, 1)
	apart := len(EncodeBlock(key, 1, cs))
	for i := range cs {
		cs[i].Times = slices.Clone(cs[0].Times)
	}
	if together := len(EncodeBlock(key, 1, cs)); together > apart-1500 {
		t.Errorf("%d bytes with the same times, %d with others", together, apart)
	}
}

// TestEveryFlippedBit: one bit anywhere in key or value, and something is
// refused. CRC-32C finds every error of up to three bits at these lengths.
func TestEveryFlippedBit(t *testing.T) {
	want := columns(5)
	key := BlockKey(aquarium.Instant(want[0].Times[0]), 7)
	v := EncodeBlock(key, 1, want)
	whole := append(bytes.Clone(key), v...)
	for i := range len(whole) * 8 {
		bad := bytes.Clone(whole)
		bad[i/8] ^= 1 << (i % 8)
		if _, _, err := decodeAll(bad[:KeyLen], bad[KeyLen:]); !errors.Is(err, ErrCorrupt) {
			t.Errorf("bit %d: got %v, want ErrCorrupt", i, err)
		}
	}
	for n := range v {
		if _, _, err := decodeAll(key, v[:n]); !errors.Is(err, ErrCorrupt) {
			t.Errorf("cut to %d bytes: got %v, want ErrCorrupt", n, err)
		}
	}
}

func TestRollupsComeBack(t *testing.T) {
	times := []int64{0, 10_000, 599_999, 600_000, 1_800_000}
	values := []float64{6.5, 6.7, 6.6, -0.1, 0.2}
	rows := Fold(nil, 600_000, times, values, func(i int) bool { return i != 4 })
	want := []column.Row{
		{At: 0, Good: 3, Min: 6.5, Max: 6.7, Sum: 19.8},
		{At: 600_000, Good: 1, Min: -0.1, Max: -0.1, Sum: -0.1},
		{At: 1_800_000, Others: 1},
	}
	if !slices.Equal(rows, want) {
		t.Errorf("got %+v, want %+v", rows, want)
	}
	hour := FoldRows(nil, 3_600_000, rows)
	if want := []column.Row{{At: 0, Good: 4, Others: 1, Min: -0.1, Max: 6.7, Sum: 19.7}}; !slices.Equal(hour, want) {
		t.Errorf("got %+v, want %+v", hour, want)
	}
	key := append([]byte{2}, BlockKey(0, 3)...)
	rs := []Rollup{{3, "pH", rows}, {4, "Cel", hour}}
	v := EncodeRollups(key, 600_000, rs)
	if got, err := DecodeRollups(key, v, 0); err != nil || !reflect.DeepEqual(got, rs) {
		t.Errorf("got %+v, %v; want %+v", got, err, rs)
	}
	if got, err := DecodeRollups(key, v, 4); err != nil || !reflect.DeepEqual(got, rs[1:]) {
		t.Errorf("got %+v, %v; want %+v", got, err, rs[1:])
	}
	for i := range len(v) * 8 {
		bad := bytes.Clone(v)
		bad[i/8] ^= 1 << (i % 8)
		if _, err := DecodeRollups(key, bad, 0); !errors.Is(err, ErrCorrupt) {
			t.Errorf("bit %d: got %v, want ErrCorrupt", i, err)
		}
	}
}

// TestSumsOfDecimals: the sum of readings is the same in any order and to the
// last place.
func TestSumsOfDecimals(t *testing.T) {
	var up, down Sums
	for i := range 100_000 {
		up.Add(float64(i%7) / 10)
		down.Add(float64((99_999-i)%7) / 10)
	}
	want := 0.0
	for i := range 100_000 {
		want += float64(i % 7)
	}
	if up.Value() != want/10 || down.Value() != want/10 {
		t.Errorf("got %v and %v, want %v", up.Value(), down.Value(), want/10)
	}
	var odd Sums
	for _, v := range []float64{math.Pi, 1e300, -1e300, 0.5} {
		odd.Add(v)
	}
	if got := odd.Value(); got != 0.5 && got != math.Pi+0.5 {
		t.Errorf("got %v", got)
	}
}

func TestLogComesBack(t *testing.T) {
	want := []Logged{
		{5, Point{At: 1_900_000_000_000, Value: 6.58, Unit: "pH"}},
		{1, Point{At: 1_900_000_000_000, Value: -171.25, Unit: "mV", Retimed: true}},
		{math.MaxUint32, Point{At: -3, Value: math.Copysign(0, -1)}},
		{0, Point{At: math.MaxInt64, Value: math.MaxFloat64, Unit: "pH"}},
		{0, Point{At: math.MinInt64, Value: 5e-324, Unit: "pH"}},
	}
	b := EncodeLog(nil, want)
	var got []string
	if err := DecodeLog(b, func(l Logged) { got = append(got, fmt.Sprint(l)) }); err != nil {
		t.Fatal(err)
	}
	for i, l := range want {
		if w := fmt.Sprint(l); i >= len(got) || got[i] != w {
			t.Errorf("reading %d: got %v, want %s", i, got, w)
		}
	}
	for n := range b {
		if err := DecodeLog(b[:n], func(Logged) {}); !errors.Is(err, ErrCorrupt) {
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
