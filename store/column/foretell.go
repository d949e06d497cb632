package column

import "encoding/binary"

// The loops below are where the time of reading a block goes. They do what next
// does, with few variables so that all stay in registers, and leave the loop
// for what is rare.

// symbols fills zs with the symbols of the first table.
func (d *decoder) symbols(zs []int64) {
	b := d.bits.b[:d.words]
	x, y := d.state[0], d.state[1]
	tab := (*[scale]entry)(d.entries[:])
	for i := range zs {
		e := tab[x&slotMask]
		x = e.step(x)
		if x < stateLow {
			n := len(b) - 2
			if n < 0 {
				d.bad = true
				return
			}
			x = x<<16 | uint32(b[n+1])<<8 | uint32(b[n])
			b = b[:n]
		}
		zs[i] = e.symbol()
		x, y = y, x
	}
	d.leave(x, y, len(zs), len(b))
}

// residuals makes residuals of symbols: escapes and low bits.
func (d *decoder) residuals(zs []int64, shift uint, escapes bool) {
	if shift == 0 && !escapes {
		return
	}
	low, shift := uint64(1)<<shift-1, shift&63
	b, at := d.bits.b, uint(d.bits.at)
	for i, s := range zs {
		if s == escape {
			d.bits.at = int(at)
			zs[i] = d.escaped()
			at = uint(d.bits.at)
			continue
		}
		if at>>3+8 > uint(len(b)) {
			d.bad = true
			return
		}
		zs[i] = s<<shift | int64(binary.LittleEndian.Uint64(b[at>>3:])>>(at&7)&low)
		at += shift
	}
	d.bits.at = int(at)
}

// foretell undoes miss.
func (m *model) foretell(zs []int64) {
	switch m.follow {
	case still:
		for i := range zs {
			zs[i] += m.start
		}
		return
	case 0:
		last := m.start
		for i, d := range zs {
			last += d
			zs[i] = last
		}
		return
	}
	k := m.follow & 63
	est := m.start<<fracBits + half
	for i, d := range zs {
		zs[i] = d + est>>fracBits
		est += (d<<fracBits + half - est&fracMask) >> k
	}
}

// foretellByContext undoes missByContext, from the state on.
func (d *decoder) foretellByContext(zs []int64, m model) {
	est := m.start << fracBits
	for len(zs) > 0 && !d.bad {
		if d.turn == 0 && len(zs) >= lotLen {
			var n int
			if est, n = d.lotByContext((*[lotLen]int64)(zs), est, m.follow); n > 0 {
				zs = zs[n:]
				continue
			}
		}
		part := est & fracMask
		s := d.next(int(part >> (fracBits - contextBits)))
		if part >= half && d.escape {
			s = mirror(s)
		}
		zs[0] = s + est>>fracBits
		est += (s<<fracBits - part) >> m.follow
		zs = zs[1:]
	}
}

// lotLen is how many a loop of known length takes at once.
const lotLen = 128

// lotByContext does a lot of foretellByContext, up to an escape, and tells how
// far it came. From one symbol to the next the way goes through the estimate,
// which chooses the table, which moves the estimate: that way is kept short.
func (d *decoder) lotByContext(zs *[lotLen]int64, est int64, follow uint) (int64, int) {
	const toTable = fracBits - contextBits - scaleBits
	b := d.bits.b[:d.words]
	x, y := d.state[0], d.state[1]
	k := follow & 63
	i := 0
	for ; i < len(zs); i++ {
		e := d.entries[uint32(est)>>toTable&(1<<(contextBits+scaleBits)-scale)|x&slotMask]
		if e < 1<<entrySymbol {
			break
		}
		zs[i] = est>>fracBits + e.symbol()
		est += (int64(e&^fracMask) - (est&fracMask | -escape<<fracBits)) >> k
		x = e.step(x)
		if x < stateLow {
			n := len(b) - 2
			if n < 0 {
				d.bad = true
				break
			}
			x = x<<16 | uint32(b[n+1])<<8 | uint32(b[n])
			b = b[:n]
		}
		x, y = y, x
	}
	d.leave(x, y, i, len(b))
	return est, i
}

// leave puts back what a loop had in registers after n turns.
func (d *decoder) leave(x, y uint32, n, words int) {
	if d.turn = n & 1; d.turn == 1 {
		x, y = y, x
	}
	d.state, d.words = [2]uint32{x, y}, words
}
