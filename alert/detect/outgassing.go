package detect

import (
	"math"
	"time"

	"lentic/alert/statistic"
	"lentic/collector/aquarium"
)

// Once no more gas comes, what of it the water holds above the room's share leaves at a
// rate of the tank's own: by its exponential it is known how far a night and a ramp can
// show that the probe reads something else.
//
//   - The controller holds the pH that it reads, whatever the probe's error: what is still
//     left in the morning of the gas it held shows nothing of it. Only the rest does.
//   - Of gas that comes at the same pace against a loss that is greater by the error,
//     less is gained than by the error alone.

// outgassing is what a night has told of it.
type outgassing struct {
	rate  float64 // of what is above the room's share, an hour; 0: not known
	shows float64 // the share of a shift that the pH at the night's end shows
}

const (
	outgasLeast = 5    // whole hours of a night, besides its first
	outgasSlow  = 0.02 // an hour: less is not told from none in a night
	outgasFast  = 1.5  // more has nothing left after the first of them
	// A night that shows less than this of a shift is not made more of: what it shows is
	// the room's air, and the lamp of the evening.
	showsLeast = 0.3
	// Nor is what a ramp shows of a shift made less of than this.
	showsMost = 2
)

// outgas is what the night tells that was over at the time and had come to a pH by then,
// back to the hour in which that was last held at its target: each hour's 10^-pH against
// that of the hour before, which of an exponential is a line.
func (t *tank) outgas(s *series, over aquarium.Instant, plateau float64) outgassing {
	part := t.config.Equipment.CO2
	var acid []float64 // from the last hour to the first
	var held float64
	var since aquarium.Instant
	for at := over.Floor(time.Hour).Add(-time.Hour); held == 0; at = at.Add(-time.Hour) {
		h := t.hourOf(s, at)
		switch v := math.Pow(10, -h.Mean); {
		case h.N == 0 || over.Sub(at) > Memory:
			return outgassing{}
		case h.Mean > part.Target+part.Band:
			acid = append(acid, v)
		default:
			held, since = v, at.Add(time.Hour/2)
		}
	}
	if len(acid) <= outgasLeast {
		return outgassing{}
	}
	acid = acid[:len(acid)-1] // but the first, in which gas may have come
	line, ok := statistic.Regress(acid[1:], acid[:len(acid)-1])
	if !ok || line.Slope < math.Exp(-outgasFast) || line.Slope > math.Exp(-outgasSlow) {
		return outgassing{}
	}
	rate := -math.Log(line.Slope)
	left := held * math.Exp(-rate*over.Add(-plateauOver/2).Sub(since).Hours())
	return outgassing{rate, max(showsLeast, 1-left*math.Pow(10, plateau))}
}

// gains is how many times an error of the probe, as a logarithm, shows in how fast 10^-pH
// gains, where it gains so much an hour at so high a value.
func (g outgassing) gains(acid, slope float64) float64 {
	return min(showsMost, 1+g.rate*acid/slope)
}
