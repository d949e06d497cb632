package column

import "math/bits"

// appendForetold writes ys by the model that suits them best, and is the head
// byte for it.
func (s *scratch) appendForetold(dst []byte, ys []int64) ([]byte, byte) {
	n := len(ys)
	copy(s.steps, ys)
	toSteps(s.steps)
	m, shift := s.trial.choose(ys, s.steps)
	zs := ys
	if m.steps {
		zs = s.steps
	}
	hs := s.hists[:1]
	if m.contexts {
		m.missByContext(zs, s.res, s.where)
		hs = s.hists[:contextTables]
		clear(hs)
		for i, d := range s.res {
			hs[s.where[i]].add(d)
		}
	} else {
		m.miss(zs, s.res, s.where)
		clear(hs)
		clear(s.where)
		for _, d := range s.res {
			hs[0].add(d >> shift)
		}
	}
	g := plan(hs, shift)
	g.tables(s.tables[:])
	w := bitWriter{b: dst}
	w.putGamma(zigzag(m.start))
	g.write(&w)
	w.putResiduals(&g, s.codes, s.res, s.where)
	dst = appendCodes(w.close(), s.codes[:n], &s.tables)
	kind := seriesForetold | byte(m.follow)<<seriesFollow
	if m.steps {
		kind |= seriesSteps
	}
	if m.contexts {
		kind |= seriesContexts
	}
	return dst, kind
}

// putResiduals makes codes of residuals and their tables.
func (w *bitWriter) putResiduals(g *group, codes []code, res []int64, tables []uint8) {
	codes, tables = codes[:len(res)], tables[:len(res)]
	lo, wide := int64(g.lo), uint64(g.hi-g.lo)
	shift := g.shift & 63
	for i, d := range res {
		symbol := d >> shift
		if uint64(symbol-lo) > wide {
			codes[i] = w.putResidual(g, int(tables[i]), d)
			continue
		}
		codes[i] = code(tables[i])<<8 | code(uint8(symbol))
		if shift > 0 {
			w.put(uint64(d)&(1<<shift-1), shift)
		}
	}
}

// putResidual is the code for d by table t of the group; low bits and escapes
// it puts.
func (w *bitWriter) putResidual(g *group, t int, d int64) code {
	symbol := d >> g.shift
	if !g.holds(symbol) {
		w.putEscaped(d)
		return toCode(t, escape)
	}
	if g.shift > 0 {
		w.put(uint64(d)&(1<<g.shift-1), g.shift)
	}
	return toCode(t, int8(symbol))
}

func (w *bitWriter) putEscaped(d int64) {
	z := zigzag(d)
	n := max(1, uint(bits.Len64(z)))
	w.put(uint64(n-1), 6)
	w.putLong(z, n)
}

// readForetold fills dst from what appendForetold wrote, to the end of r.
func (r *reader) readForetold(dst []int64, head byte) {
	d := decoders.Get().(*decoder)
	defer d.release()
	if !d.open(r.b) {
		r.bad = true
		return
	}
	m := model{follow: uint(head>>seriesFollow) & 7, steps: head&seriesSteps != 0, contexts: head&seriesContexts != 0}
	m.start = unzigzag(d.bits.takeGamma())
	tables := 1
	if m.contexts {
		tables = contextTables
	}
	g, ok := readGroup(&d.bits, tables)
	if !ok || m.contexts && g.shift > 0 {
		r.bad = true
		return
	}
	g.entries(d, 0, m.contexts)
	if m.contexts {
		d.foretellByContext(dst, m)
	} else {
		d.symbols(dst)
		d.residuals(dst, g.shift, g.esc)
		m.foretell(dst)
	}
	if d.bad || !r.front && !d.done() {
		r.bad = true
		return
	}
	if m.steps {
		fromSteps(dst)
	}
}
