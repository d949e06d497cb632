package relation

import "math"

// square is an n by n matrix, symmetric throughout this package.
type square [][]float64

func newSquare(n int) square {
	m := make(square, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// inverse is the inverse by Gauss and Jordan with pivots; false where there is
// none. What is passed is used up.
func (m square) inverse() (square, bool) {
	n := len(m)
	inv := newSquare(n)
	for i := range inv {
		inv[i][i] = 1
	}
	for c := range n {
		p := c
		for r := c + 1; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[p][c]) {
				p = r
			}
		}
		if math.Abs(m[p][c]) < 1e-300 {
			return nil, false
		}
		m[c], m[p], inv[c], inv[p] = m[p], m[c], inv[p], inv[c]
		scale(m[c], inv[c], 1/m[c][c])
		for r := range n {
			if f := m[r][c]; r != c && f != 0 {
				for j := range n {
					m[r][j] -= f * m[c][j]
					inv[r][j] -= f * inv[c][j]
				}
			}
		}
	}
	return inv, true
}

func scale(a, b []float64, by float64) {
	for j := range a {
		a[j] *= by
		b[j] *= by
	}
}

// times is m times v, written into out.
func (m square) times(v, out []float64) {
	for i, row := range m {
		out[i] = 0
		for j, x := range row {
			out[i] += x * v[j]
		}
	}
}

// part is the matrix of those rows and columns only.
func (m square) part(of []int) square {
	s := newSquare(len(of))
	for i, a := range of {
		for j, b := range of {
			s[i][j] = m[a][b]
		}
	}
	return s
}

// form is v' m v; out is room for it.
func (m square) form(v, out []float64) (sum float64) {
	m.times(v, out)
	for i, x := range out {
		sum += x * v[i]
	}
	return sum
}
