package tanks

// tank is the true state of one tank, without noise. A step is ten seconds.
type tank struct {
	noise rng
	clock int // steps since midnight
	state [Sensors]float64
	phase int64            // of its messages, ms
	own   [Sensors]int64   // of each sensor's readings, ms
	drawn [Sensors]float64 // the last values, in steps
	bits  float64          // information in all values drawn so far
}

const day = 8640 // steps

func newTank(seed uint64, n int) tank {
	t := tank{noise: rng(seed*0x9E3779B97F4A7C15 + uint64(n+1)*0xBF58476D1CE4E5B9 | 1)}
	for range 8 {
		t.noise.next()
	}
	t.clock = int(t.noise.below(360)) // lights and dosing are not all switched in the same second
	// All stamps of one turn lie before the first of the next.
	t.phase = 1000 * t.noise.below(9)
	for i := range t.own {
		t.own[i] = t.noise.below(Every - Jitter)
	}
	t.state = [Sensors]float64{
		ph: 7.1 + 0.1*t.noise.normal(), water: 24.5, level: -4 * float64(t.noise.below(1000)) / 1000,
		flowA: 1000 + 20*t.noise.normal(), flowB: 950 + 20*t.noise.normal(),
		reservoir: 120 + float64(t.noise.below(60)), waste: 100 + float64(t.noise.below(100)),
	}
	return t
}

// step lets ten seconds pass: what a controlled planted tank does, roughly.
func (t *tank) step() {
	t.clock = (t.clock + 1) % day
	s := &t.state
	t.chemistry()
	s[water] -= (s[water] - 21) * 0.00003
	s[water] += s[heat] * 0.0004
	toggle(&s[heat], s[water] < 24.4, s[water] > 24.6)

	s[level] -= 0.0008 // evaporation, some 7 mm a day
	s[level] += 0.045 * s[topoff]
	s[reservoir] += -0.25*s[topoff] + 0.19*s[refill]
	toggle(&s[topoff], s[level] < -4, s[level] > 0)
	toggle(&s[refill], s[reservoir] < 80, s[reservoir] > 195)

	s[waste] += 0.02 - 1.5*s[wastePump]
	toggle(&s[wastePump], s[waste] > 250, s[waste] < 60)

	for _, f := range []int{flowA, flowB} {
		s[f] -= 0.0004 // a filter clogs by a third in three months
		if s[f] < 680 {
			s[f] = 1050 // and is cleaned
		}
	}
}

// chemistry: CO2 is dosed from 08:00 to 17:00 and leaves all the time.
func (t *tank) chemistry() {
	s := &t.state
	s[ph] += (7.2-s[ph])*0.0004 - 0.0011*s[valve]
	dosing := t.clock > 8*360 && t.clock < 17*360
	toggle(&s[valve], dosing && s[ph] > 6.65, !dosing || s[ph] < 6.55)
}

func toggle(s *float64, on, off bool) {
	switch {
	case off:
		*s = 0
	case on:
		*s = 1
	}
}

// draw reads every sensor.
func (t *tank) draw(count bool) {
	for i := range sensors {
		k := &sensors[i]
		mean := t.state[i] * k.per
		if k.sigma == 0 {
			t.drawn[i] = mean
			continue
		}
		n := round(mean + k.sigma*t.noise.normal())
		t.drawn[i] = n
		if count {
			t.bits += bits(n, mean, k.sigma)
		}
	}
}

// round is math.Round for what fits an int, and faster.
func round(v float64) float64 {
	if v < 0 {
		return float64(int64(v - 0.5))
	}
	return float64(int64(v + 0.5))
}
