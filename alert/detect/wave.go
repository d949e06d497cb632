package detect

import (
	"math"
	"slices"
	"time"

	"lentic/collector/aquarium"
)

// Hands in the water make waves, and a hose that bursts makes none: the level's
// readings, all of them, go up and down by far more than they do. That is their
// second difference: of water that runs in or out steadily it is nothing. A
// splash is three such differences, and a beginning or an end is one, so that
// none counts for more than waveMost, or as many times what is rough for the
// sensor. A level on the edge between two of its steps flickers by them, which makes
// one step in the mean, and two for a while: of a sensor whose steps are coarse only
// more than that is rough. Common practice, no source.
const (
	waveFast   = 2 * time.Minute
	waveSlow   = 6 * time.Hour
	waveMost   = 4.0 // mm, or as much more as what is rough is more
	waveRough  = 1.7 // mm, in the mean
	waveSteps  = 2.5 // or so many of its steps, of a coarse sensor
	waveCoarse = 2.0 // mm
	waveTimes  = 3.5 // what is usual for the sensor
)

// wave follows how rough a level is.
type wave struct {
	at         aquarium.Instant
	v, step    float64            // the last reading, and how far from the one before
	dt         time.Duration      // and how long after it
	course     [wayPoints]float64 // the last readings, a ring
	digit      float64            // the least between two readings, mm; 0: none ever differed
	fast, slow float64            // mean second differences, lately and usually
	once       float64            // mean first difference, usually
	n          int
	rough      aquarium.Instant // when it was last rough; 0: never
	from       aquarium.Instant // since when it has been, with short pauses
	roughs     int              // readings since then that were
}

// missing is by how much more than the last a gap lies in which a reading is missing, or
// comes yet.
const missing = 1.5

// take adds a reading. By the clock, two gaps that differ are compared by the way in the
// shorter one: as a reading is missing, water that begins to leave bends its course by what
// leaves in one gap, and no more.
func (w *wave) take(at aquarium.Instant, v float64, byClock bool) {
	dt := at.Sub(w.at)
	if dt <= 0 {
		return
	}
	step, before := v-w.v, w.step
	if share := float64(dt) / float64(max(1, w.dt)); byClock && w.n > 1 {
		if share >= missing {
			step /= share
		} else if share <= 1/missing {
			before *= share
		}
	}
	if apart := math.Abs(v - w.v); w.n > 0 && apart > 0.01 && (w.digit == 0 || apart < w.digit) {
		w.digit = apart
	}
	rough := max(waveRough, waveTimes*w.slow)
	if w.digit >= waveCoarse {
		rough = max(rough, waveSteps*w.digit)
	}
	most, first := waveMost/waveRough*rough, math.Abs(v-w.v)
	d := min(most, math.Abs(step-before))
	known := w.n > 1 && dt < handGap
	w.at, w.v, w.step, w.dt = at, v, v-w.v, dt
	w.course[w.n%wayPoints] = v
	w.n++
	if !known {
		return
	}
	share := func(of time.Duration) float64 { return min(0.2, float64(dt)/float64(of)) }
	w.fast += share(waveFast) * (d - w.fast)
	if w.fast >= rough && w.n > waveKnown {
		if !w.oneWay() {
			if at.Sub(w.rough) > wavePause {
				w.from, w.roughs = at, 0
			}
			w.rough = at
			w.roughs++
		}
		return
	}
	usual := max(share(waveSlow), 1/float64(w.n))
	w.slow += usual * (d - w.slow)
	w.once += usual * (min(most, first) - w.once)
}

// Of a splash the mean is rough for five minutes, or nine readings, at the most: hands at
// work go on for longer.
const (
	wavePause  = 3 * time.Minute
	churnFor   = 8 * time.Minute
	churnLeast = 10 // readings
)

// churned reports whether hands have been at work in the water, and still are.
func (w *wave) churned(now aquarium.Instant) bool {
	return w.roughs >= churnLeast && w.rough.Sub(w.from) >= churnFor && now.Sub(w.rough) <= wavePause
}

// Water that begins to leave or to come bends the level's course once or twice, and as
// seen each minute by as much as waves do; waves go up and down.
const (
	wayPoints = 4
	wayLeast  = 3.0 // mm
	wayShare  = 0.7 // of the whole way
)

// oneWay reports whether the last readings go down, or up, nearly all the way.
func (w *wave) oneWay() bool {
	way := 0.0
	for i := 1; i < wayPoints; i++ {
		way += math.Abs(w.course[(w.n+i)%wayPoints] - w.course[(w.n+i-1)%wayPoints])
	}
	apart := math.Abs(w.v - w.course[w.n%wayPoints])
	return apart >= wayLeast && apart >= wayShare*way
}

// noise is what the sensor's readings usually differ by from the water, one standard
// deviation: the mean second difference of independent normal ones is
// sqrt(6)*sqrt(2/pi) of it.
func (w *wave) noise() float64 { return w.slow / 1.954 }

// inflation is how many times that noise counts in what many readings tell, as far as each
// keeps something of the one before, less so many standard errors of that.
func (w *wave) inflation(less float64) float64 {
	if w.n <= waveKnown {
		return waverFirst
	}
	if w.once == 0 {
		return 1
	}
	ratio := w.slow / w.once
	phi := min(waverStays, 3-ratio*ratio-less/math.Sqrt(float64(w.n)))
	if phi <= 0 {
		return 1
	}
	return math.Sqrt(3*(1+phi)/(3-phi)) / (1 - phi)
}

// waveKnown is how many readings it takes to know what is usual.
const waveKnown = 60

// A sensor with noise of its own hides small waves from one reading to the next, and
// not over some minutes: the mean of the second differences is then by half over what
// is usual, also without the largest fifth of them and with none counted as more than
// three usual ones, so that a splash, a step and a spike make little difference. In
// simulated weeks a level that nobody touches is so for 0.3 to 5 minutes in a thousand,
// which is too often to be a sign by itself: it is asked for only where all filters
// stand still, which calms the water.
const (
	restlessFor   = 4 * time.Minute
	restlessLeast = 16 // readings
	restlessTimes = 1.5
	restlessTrim  = 5   // one of so many is left out
	restlessMost  = 3.0 // times what is usual
	// A sensor whose steps are beyond its noise, or that tells its changes only, goes to and
	// fro by one of them whenever the water stands on an edge, and by two or more for a
	// reading or so: waves do that again and again, for longer than a splash.
	toAndFro     = 2.0 // steps: the most that a flicker's second differences come to
	restlessMore = 3   // readings
	restlessSpan = 90 * time.Second
)

// restless reports whether a level scatters more than it usually does, for minutes.
func (s *series) restless(now aquarium.Instant) bool {
	if !s.current(now) || s.wave.n <= waveKnown {
		return false
	}
	ps := s.window(now, restlessFor)
	if s.config.OnChange && s.wave.slow <= toAndFro*s.wave.digit {
		return sways(ps, (toAndFro+0.5)*s.wave.digit)
	}
	if len(ps) < restlessLeast {
		return false
	}
	// Water that leaves or comes goes one way: that a fine level's digits do so by turns
	// is no waves.
	if n := len(ps) / 3; math.Abs(mean(ps[:n])-mean(ps[len(ps)-n:])) >= levelMoved/2 || s.wave.oneWay() {
		return false
	}
	ds := make([]float64, 0, len(ps))
	for i := 2; i < len(ps); i++ {
		ds = append(ds, math.Abs(ps[i].v-2*ps[i-1].v+ps[i-2].v))
	}
	slices.Sort(ds)
	sum, n := 0.0, len(ds)-len(ds)/restlessTrim
	for _, d := range ds[:n] {
		sum += min(d, restlessMost*s.wave.slow)
	}
	return sum > restlessTimes*s.wave.slow*float64(n)
}

// flickers reports whether a level that scatters may do so for no more than lying on an edge
// between two of its steps.
func (s *series) flickers(now aquarium.Instant) bool {
	return s.wave.slow <= s.wave.digit && !sways(s.window(now, restlessFor), (toAndFro+0.5)*s.wave.digit)
}

// sways reports whether second differences of points are larger than that again and
// again.
func sways(ps []point, mm float64) bool {
	n, first := 0, aquarium.Instant(0)
	for i := 2; i < len(ps); i++ {
		if math.Abs(ps[i].v-2*ps[i-1].v+ps[i-2].v) <= mm {
			continue
		}
		if n++; n == 1 {
			first = ps[i].at
		}
		if n >= restlessMore && ps[i].at.Sub(first) >= restlessSpan {
			return true
		}
	}
	return false
}
