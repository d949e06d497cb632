package column

// model is how a series is foretold. The estimate follows the numbers: each
// moves it by 1/2^follow of what it was missed by; still lets it stand. It is
// kept in fractions and rounded to the nearest whole number to be the
// forecast.
//
// A sensor that rounds coarser than its noise gives numbers whose distribution
// depends on where between two of them the truth lies. Where contexts is set,
// the part the rounding took decides which table codes the residual: eight
// stretches of it, the upper four with the mirrored tables of the lower.
type model struct {
	follow   uint // 0 to followMax, or still
	steps    bool // what is foretold is the step from one number to the next
	contexts bool
	start    int64 // the first forecast
}

const (
	followMax = 6
	still     = 7

	// The estimate is kept in 1/2^fracBits: so an entry is a symbol in the
	// same measure, above bits to be masked out.
	fracBits = entrySymbol
	fracMask = 1<<fracBits - 1
	half     = 1 << (fracBits - 1)

	contextBits   = 3
	contextTables = 1 << (contextBits - 1)
)

// miss fills res with what the model's forecasts for zs miss, and where with
// the estimate's context, 0 to 7, at each.
func (m *model) miss(zs, res []int64, where []uint8) {
	res, where = res[:len(zs)], where[:len(zs)]
	if m.follow == still {
		for i, z := range zs {
			res[i], where[i] = z-m.start, contextTables
		}
		return
	}
	if m.follow == 0 {
		last := m.start
		for i, z := range zs {
			res[i], where[i] = z-last, contextTables
			last = z
		}
		return
	}
	k := m.follow & 63
	est := m.start<<fracBits + half
	for i, z := range zs {
		d := z - est>>fracBits
		res[i], where[i] = d, uint8(est&fracMask>>(fracBits-contextBits))
		est += (d<<fracBits + half - est&fracMask) >> k
	}
}

// missByContext is miss for a model with contexts, folded: where is the table.
// Its forecast is the estimate rounded down, so that the entry that codes a
// residual moves the estimate as it is.
func (m *model) missByContext(zs, res []int64, where []uint8) {
	res, where = res[:len(zs)], where[:len(zs)]
	k := m.follow & 63
	est := m.start << fracBits
	for i, z := range zs {
		d := z - est>>fracBits
		part := est & fracMask
		est += (d<<fracBits - part) >> k
		t := uint8(part >> (fracBits - contextBits))
		if t >= contextTables {
			t, d = 2*contextTables-1-t, mirror(d)
		}
		res[i], where[i] = d, t
	}
}

// mirror turns a residual of a rounded down forecast round: what lies below the
// estimate comes to lie as far above that of the mirrored context.
func mirror(d int64) int64 { return 1 - d }

// steps leaves in xs what each adds to the one before, the first as it is.
func toSteps(xs []int64) {
	last := int64(0)
	for i, x := range xs {
		xs[i] = x - last
		last = x
	}
}

func fromSteps(xs []int64) {
	last := int64(0)
	for i, x := range xs {
		last += x
		xs[i] = last
	}
}
