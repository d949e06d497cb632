package column

// group is a few tables that are much alike and written together, symbol by
// symbol: those of a sensor's contexts. One alone is a group too.
type group struct {
	lo, hi int // symbols that have levels
	esc    bool
	shift  uint // low bits of a residual that are written as they are
	levels []levels
}

const maxShift = 56

// plan chooses symbols and levels for what was counted. Symbols far out that
// occur so rarely that their place in the tables costs more than escapes do are
// left out.
func plan(hs []hist, shift uint) group {
	g := group{shift: shift, levels: make([]levels, len(hs))}
	var all hist
	for i := range hs {
		for s, c := range hs[i].counts {
			all.counts[s] += c
		}
		all.escs += hs[i].escs
	}
	from, to := trim(&all, len(hs))
	g.lo, g.hi = from+symbolMin, to+symbolMin
	for t := range hs {
		h, n, kept := &hs[t], uint32(0), uint32(0)
		for s, c := range h.counts {
			n += c
			if s >= from && s <= to {
				kept += c
			}
		}
		n += h.escs
		for s := from; s <= to; s++ {
			g.levels[t][s] = level(h.counts[s], n)
		}
		g.levels[t][levelEsc] = level(n-kept, n)
		g.esc = g.esc || n > kept
	}
	return g
}

// trim is the range of counts worth a place in each of the tables.
func trim(h *hist, tables int) (from, to int) {
	const (
		escapeCost = 2 * levelBits // bits that an escape takes more than a rare symbol
		symbolCost = levelBits
		emptyCost  = 2
	)
	from, to = 0, len(h.counts)-1
	for {
		shorter := func(at, step int) (next int) {
			for next = at + step; next >= from && next <= to && h.counts[next] == 0; next += step {
			}
			return next
		}
		worth := func(at, next int) bool {
			empty := max(at-next, next-at) - 1
			return int(h.counts[at])*escapeCost > (symbolCost+emptyCost*empty)*tables
		}
		if from == to {
			return from, to
		}
		if next := shorter(from, 1); h.counts[from] == 0 || next <= to && !worth(from, next) {
			from = min(next, to)
			continue
		}
		if next := shorter(to, -1); h.counts[to] == 0 || next >= from && !worth(to, next) {
			to = max(next, from)
			continue
		}
		return from, to
	}
}

// holds reports whether the residual's symbol has a place in the tables.
func (g *group) holds(symbol int64) bool { return symbol >= int64(g.lo) && symbol <= int64(g.hi) }

// rawLevels is the way of writing levels that uses levelBits each; 1 to 3 is
// Rice's parameter for what each adds to the one before.
const rawLevels = 0

// write puts the group's head and its levels.
func (g *group) write(w *bitWriter) {
	w.putGamma(uint64(g.shift))
	w.putGamma(zigzag(int64(g.lo)))
	w.putGamma(uint64(g.hi - g.lo))
	w.put(uint64(bit(g.esc)), 1)
	way, least := uint(rawLevels), levelBits*len(g.levels)*(g.hi-g.lo+1)
	for k := uint(1); k <= 3; k++ {
		cost, last := 0, uint8(0)
		g.each(func(l *uint8) {
			cost += int(zigzag(int64(*l)-int64(last))>>k) + 1 + int(k)
			last = *l
		})
		if cost < least {
			way, least = k, cost
		}
	}
	w.put(uint64(way), 2)
	last := uint8(0)
	g.each(func(l *uint8) {
		if way == rawLevels {
			w.put(uint64(*l), levelBits)
		} else {
			w.putRice(zigzag(int64(*l)-int64(last)), way)
		}
		last = *l
	})
	if g.esc {
		for t := range g.levels {
			w.put(uint64(g.levels[t][levelEsc]), levelBits)
		}
	}
}

// each goes through the levels in the order they are written.
func (g *group) each(do func(*uint8)) {
	for s := g.lo - symbolMin; s <= g.hi-symbolMin; s++ {
		for t := range g.levels {
			do(&g.levels[t][s])
		}
	}
}

// readGroup reads what write wrote, for so many tables.
func readGroup(r *bitReader, tables int) (g group, ok bool) {
	shift, lo, wide := r.takeGamma(), r.takeGamma(), r.takeGamma()
	if shift > maxShift || lo > uint64(zigzag(symbolMin)) || wide > symbolMax-symbolMin {
		return g, false
	}
	g.shift, g.lo = uint(shift), int(unzigzag(lo))
	g.hi = g.lo + int(wide)
	g.esc = r.take(1) == 1
	if g.lo < symbolMin || g.hi > symbolMax {
		return g, false
	}
	g.levels = make([]levels, tables)
	way, last, most := uint(r.take(2)), uint8(0), uint8(0)
	g.each(func(l *uint8) {
		if way == rawLevels {
			*l = uint8(r.take(levelBits))
		} else {
			*l = last + uint8(unzigzag(r.takeRice(way)))
		}
		last, most = *l, max(most, *l)
	})
	if g.esc {
		for t := range g.levels {
			l := uint8(r.take(levelBits))
			g.levels[t][levelEsc], most = l, max(most, l)
		}
	}
	return g, most <= levelTop
}

// tables are the group's as coding needs them.
func (g *group) tables(ts []table) {
	for t := range g.levels {
		fs, from := g.levels[t].frequencies(g.lo, g.hi), uint16(0)
		g.slots(func(i int, symbol int8) {
			ts[t].spans[uint8(symbol)] = span{from, fs[i]}
			from += fs[i]
		})
	}
}

// slots goes through the places of fs in the order their slots lie.
func (g *group) slots(do func(i int, symbol int8)) {
	if g.lo > 0 || g.hi < 0 {
		do(-symbolMin, 0) // where nothing occurs, 0 has everything
	}
	for i := g.lo - symbolMin; i <= g.hi-symbolMin; i++ {
		do(i, int8(i+symbolMin))
	}
	do(levelEsc, escape)
}

// entries fills decoding tables from number first on; with image as many more
// follow, of which the last is the first's mirror image.
func (g *group) entries(d *decoder, first int, image bool) {
	n := len(g.levels)
	for t := range g.levels {
		d.shift[first+t] = g.shift
		fs, from := g.levels[t].frequencies(g.lo, g.hi), 0
		at := d.entries[(first+t)<<scaleBits:][:scale]
		var mirrored []entry
		if image {
			mirrored = d.entries[(first+2*n-1-t)<<scaleBits:][:scale]
		}
		g.slots(func(i int, symbol int8) {
			f := int(fs[i])
			fill(at[from:from+f], toEntry(symbol, f, 0))
			if image {
				if symbol != escape {
					symbol = int8(mirror(int64(symbol)))
				}
				fill(mirrored[from:from+f], toEntry(symbol, f, 0))
			}
			from += f
		})
	}
}

func fill(s []entry, e entry) {
	for ; len(s) >= 8; s, e = s[8:], e+8 {
		some := (*[8]entry)(s)
		some[0], some[1], some[2], some[3] = e, e+1, e+2, e+3
		some[4], some[5], some[6], some[7] = e+4, e+5, e+6, e+7
	}
	for i := range s {
		s[i] = e + entry(i)
	}
}

func bit(is bool) byte {
	if is {
		return 1
	}
	return 0
}
