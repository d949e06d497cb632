package column

import "encoding/binary"

// What the predictors miss is coded by range asymmetric numeral systems (Duda
// 2013, "Asymmetric numeral systems", arXiv:1311.2540) with tables that are
// written once per column: two states take turns, so that a processor works at
// both, and each is filled up by 16 bits when it falls below 2^16.
//
// The states and what they shed stand at the end of the column and are read
// backwards; the whole bits (tables, low bits, escapes) stand before and are
// read forwards. The two must meet, which is also how damage is noticed.

const (
	scaleBits = 10 // of a table's frequencies, which add up to scale
	scale     = 1 << scaleBits
	slotMask  = scale - 1

	stateLow = 1 << 16
	stateLen = 4 // bytes of a state

	maxTables = 8
)

// An entry of a decoding table: the symbol less escape in the top 8 bits; then
// its frequency, 1 to scale; then the slot's place among the symbol's, in the
// lowest 10.
type entry uint32

func toEntry(symbol int8, freq, place int) entry {
	return entry(int(symbol)-escape)<<entrySymbol | entry(freq)<<entryFreq | entry(place)
}

func (e entry) symbol() int64 { return int64(e>>entrySymbol) + escape }

// step is the state after x, whose slot's the entry is, before it is filled up.
func (e entry) step(x uint32) uint32 {
	return uint32(e)>>entryFreq&freqMask*(x>>scaleBits) + uint32(e)&slotMask
}

const (
	entryFreq   = 12
	freqMask    = 1<<11 - 1
	entrySymbol = 24
)

// A code is one symbol to be coded: table << 8 | symbol as a byte.
type code = uint16

func toCode(table int, symbol int8) code { return code(table)<<8 | code(uint8(symbol)) }

// appendCodes codes from the last to the first, as such states do, so that
// decoding goes from the first to the last.
func appendCodes(dst []byte, codes []code, tables *[maxTables]table) []byte {
	x, y := uint32(stateLow), uint32(stateLow) // x's turn is next
	for i := len(codes) - 1; i >= 0; i-- {
		s := tables[codes[i]>>8&(maxTables-1)].spans[uint8(codes[i])]
		freq := uint32(s.freq)
		if uint64(x) >= uint64(freq)<<(32-scaleBits) {
			dst = append(dst, byte(x), byte(x>>8))
			x >>= 16
		}
		q := x / freq
		x, y = y, q<<scaleBits+(x-q*freq)+uint32(s.from)
	}
	// The last was the first state's; or none was, and both are the same.
	dst = binary.LittleEndian.AppendUint32(dst, x)
	return binary.LittleEndian.AppendUint32(dst, y)
}

// decoder takes residuals out of the end of a column. It is large and kept for
// reuse, see pool.go.
type decoder struct {
	bits    bitReader // forwards: tables, low bits, escapes
	words   int       // backwards: where the next 16 bits end
	state   [2]uint32
	turn    int
	bad     bool
	escape  bool // the last of next had no symbol
	shift   [maxTables]uint
	entries [maxTables << scaleBits]entry
}

// open begins at b, the rest of a column.
func (d *decoder) open(b []byte) bool {
	d.bits, d.turn, d.bad = bitReader{b: b}, 0, false
	if d.words = len(b) - 2*stateLen; d.words < 0 {
		return false
	}
	d.state[0] = binary.LittleEndian.Uint32(b[d.words+stateLen:])
	d.state[1] = binary.LittleEndian.Uint32(b[d.words:])
	return d.state[0] >= stateLow && d.state[1] >= stateLow
}

// next is the next residual by table t.
func (d *decoder) next(t int) int64 {
	x := d.state[d.turn]
	e := d.entries[t<<scaleBits|int(x&slotMask)]
	d.fill(e.step(x))
	symbol := e.symbol()
	if d.escape = symbol == escape; d.escape {
		return d.escaped()
	}
	return symbol<<d.shift[t] | int64(d.bits.take(d.shift[t]))
}

// fill ends a turn with that state, which has the next word in it where it fell
// too low.
func (d *decoder) fill(x uint32) {
	if x < stateLow {
		if d.words < 2 {
			d.bad = true
			return
		}
		d.words -= 2
		x = x<<16 | uint32(binary.LittleEndian.Uint16(d.bits.b[d.words:]))
	}
	d.state[d.turn] = x
	d.turn ^= 1
}

// escaped is a residual that has no symbol: the length of its zigzag less one
// in six bits, then its bits.
func (d *decoder) escaped() int64 {
	n := uint(d.bits.take(6)) + 1
	return unzigzag(d.bits.takeLong(n))
}

// done reports whether everything was read and the states are where coding
// began.
func (d *decoder) done() bool {
	return !d.bad && d.bits.end() == d.words && d.state == [2]uint32{stateLow, stateLow}
}
