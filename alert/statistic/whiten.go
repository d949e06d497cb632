package statistic

import (
	"math"
	"time"
)

// Whitener makes readings that depend on the one before into values that do
// not, so that a chart's run length holds: readings ten seconds apart are nearly
// the same reading, and a chart that takes them for independent signals many
// times too often.
//
// A reading is taken for a level about zero that forgets with the time constant
// Tau, as an AR(1) series does at any spacing: of two readings d apart the
// second repeats exp(-d/Tau) of the first. What it brings that is new is
// returned in standard deviations, and is independent of what came before
// (Alwan & Roberts 1988). A lasting shift of s standard deviations becomes one
// of s*Remains: the price of correlation, paid in delay and not in false alarms.
//
// A Tau that is too short loses the rate, and so does one that is too long unless
// what comes out is divided by its own standard deviation: round it up, and
// measure.
type Whitener struct {
	Tau time.Duration // 0: readings are independent
	SD  float64       // of the readings; above 0

	last  float64
	at    int64
	known bool
}

// Take is what a reading brings that is new. Of the first reading, and of one
// that is not newer than the last, that is all of it.
func (w *Whitener) Take(ms int64, deviation float64) float64 {
	z := deviation / w.SD
	phi := 0.0
	if w.known && ms > w.at {
		phi = Repeats(w.Tau, time.Duration(ms-w.at)*time.Millisecond)
	}
	fresh := (z - phi*w.last) / math.Sqrt(1-phi*phi)
	w.last, w.at, w.known = z, ms, true
	return fresh
}

// Repeats is the autocorrelation of readings d apart.
func Repeats(tau, d time.Duration) float64 {
	if tau <= 0 || d <= 0 {
		return 0
	}
	return math.Exp(-float64(d) / float64(tau))
}

// Forgets is the time constant of readings d apart with that autocorrelation; 0
// where it is not positive. It is the inverse of Repeats.
func Forgets(correlation float64, d time.Duration) time.Duration {
	if correlation <= 0 || correlation >= 1 {
		return 0
	}
	return time.Duration(-float64(d) / math.Log(correlation))
}

// Remains is the share of a lasting shift that is left of it after whitening
// readings of that autocorrelation.
func Remains(correlation float64) float64 {
	return math.Sqrt((1 - correlation) / (1 + correlation))
}

// Looks is the run length that keeps false alarms apart by between on average,
// for a chart that is told one independent value each every: what CusumLimit and
// EwmaLimit are to be asked for.
func Looks(between, every time.Duration) float64 { return float64(between) / float64(every) }
