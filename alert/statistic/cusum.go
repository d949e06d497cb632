package statistic

// Cusum is the two-sided tabular CUSUM (Page 1954; NIST e-Handbook 6.3.2.3): it
// sums how far values lie beyond their mean by more than the slack. It finds a
// small lasting shift soonest. A one-sided user looks at one of the sums only.
type Cusum struct {
	K float64 // slack: half the shift to be found, in the unit of the values
	H float64 // decision interval: see CusumLimit

	Up, Down float64 // the sums, never negative
	// UpRun and DownRun count the values since the sum was last zero: the
	// shift is placed just before the first of them.
	UpRun, DownRun int
}

// Take adds how far a value lies from its mean.
func (c *Cusum) Take(deviation float64) {
	c.Up, c.UpRun = grow(c.Up, c.UpRun, deviation-c.K)
	c.Down, c.DownRun = grow(c.Down, c.DownRun, -deviation-c.K)
}

func grow(sum float64, run int, by float64) (float64, int) {
	if sum += by; sum <= 0 {
		return 0, 0
	}
	return sum, run + 1
}

// Rising and Falling report whether a sum has passed H.
func (c *Cusum) Rising() bool  { return c.Up > c.H }
func (c *Cusum) Falling() bool { return c.Down > c.H }

// Shift estimates how far the mean has moved, signed, 0 where neither sum
// stands (Montgomery, section 9.1: K + C/N).
func (c *Cusum) Shift() float64 {
	switch {
	case c.UpRun > 0 && c.Up >= c.Down:
		return c.K + c.Up/float64(c.UpRun)
	case c.DownRun > 0:
		return -c.K - c.Down/float64(c.DownRun)
	}
	return 0
}

// Restart empties both sums, or gives them a headstart, so that a fault that is
// there from the start is found sooner (Lucas & Crosier 1982: half of H).
func (c *Cusum) Restart(headstart float64) {
	c.Up, c.Down, c.UpRun, c.DownRun = headstart, headstart, 0, 0
}
