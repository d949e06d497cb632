package column

import (
	"math"
	"strconv"
	"testing"
)

func TestDecimal(t *testing.T) {
	for _, c := range []struct {
		v    float64
		m    int64
		e    uint8
		want bool
	}{
		{0, 0, 0, true}, {1, 1, 0, true}, {-3, -3, 0, true}, {6.58, 658, 2, true}, {24.5, 245, 1, true},
		{-0.1, -1, 1, true}, {0.001, 1, 3, true}, {1e15, 1e15, 0, true}, {1 << 53, 1 << 53, 0, true},
		{1e-15, 1, 15, true}, {0.30000000000000004, 0, 0, false}, {math.Copysign(0, -1), 0, 0, false},
		{math.NaN(), 0, 0, false}, {math.Inf(1), 0, 0, false}, {math.Inf(-1), 0, 0, false},
		{1.0 / 3, 0, 0, false}, {1e-16, 0, 0, false}, {math.MaxFloat64, 0, 0, false}, {math.SmallestNonzeroFloat64, 0, 0, false},
		{1<<53 + 2, 0, 0, false},
	} {
		m, e, ok := Decimal(c.v)
		if m != c.m || e != c.e || ok != c.want {
			t.Errorf("Decimal(%v) = %d, %d, %v; want %d, %d, %v", c.v, m, e, ok, c.m, c.e, c.want)
		}
		if ok && math.Float64bits(FromDecimal(m, e)) != math.Float64bits(c.v) {
			t.Errorf("FromDecimal(%d, %d) = %v, want %v", m, e, FromDecimal(m, e), c.v)
		}
	}
}

// Every decimal of up to 15 digits that strconv reads comes back: its parser is
// the outside witness that the division rounds as a parser does.
func TestDecimalsAsRead(t *testing.T) {
	x := uint64(1)
	for range 200_000 {
		x = x*6364136223846793005 + 1442695040888963407
		m, e := int64(x>>14)%1e15, uint8(x%16)
		v, err := strconv.ParseFloat(strconv.FormatInt(m, 10)+"e-"+strconv.Itoa(int(e)), 64)
		if err != nil {
			t.Fatal(err)
		}
		if got := FromDecimal(m, e); got != v {
			t.Fatalf("FromDecimal(%d, %d) = %v, strconv reads %v", m, e, got, v)
		}
		if m2, e2, ok := Decimal(v); !ok || e2 > e || FromDecimal(m2, e2) != v {
			t.Fatalf("Decimal(%v) = %d, %d, %v; want exponent at most %d", v, m2, e2, ok, e)
		}
	}
}
