package detect

import (
	"math"
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
	v, step    float64 // the last reading, and how far from the one before
	digit      float64 // the least between two readings, mm; 0: none ever differed
	fast, slow float64 // mean second differences, lately and usually
	n          int
	rough      aquarium.Instant // when it was last rough; 0: never
}

func (w *wave) take(at aquarium.Instant, v float64) {
	dt := at.Sub(w.at)
	if dt <= 0 {
		return
	}
	if apart := math.Abs(v - w.v); w.n > 0 && apart > 0.01 && (w.digit == 0 || apart < w.digit) {
		w.digit = apart
	}
	rough := max(waveRough, waveTimes*w.slow)
	if w.digit >= waveCoarse {
		rough = max(rough, waveSteps*w.digit)
	}
	d := min(waveMost/waveRough*rough, math.Abs(v-w.v-w.step))
	known := w.n > 1 && dt < handGap
	w.at, w.v, w.step = at, v, v-w.v
	w.n++
	if !known {
		return
	}
	share := func(of time.Duration) float64 { return min(0.2, float64(dt)/float64(of)) }
	w.fast += share(waveFast) * (d - w.fast)
	if w.fast >= rough && w.n > waveKnown {
		w.rough = at
		return
	}
	w.slow += max(share(waveSlow), 1/float64(w.n)) * (d - w.slow)
}

// noise is what the sensor's readings usually differ by from the water, one standard
// deviation: the mean second difference of independent normal ones is
// sqrt(6)*sqrt(2/pi) of it.
func (w *wave) noise() float64 { return w.slow / 1.954 }

// waveKnown is how many readings it takes to know what is usual.
const waveKnown = 60
