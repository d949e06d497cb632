package statistic

import "time"

// Limit is a bound with a deadband and delays, as ISA-18.2 and IEC 62682 have
// it: it stands once values have been beyond Bound for On without interruption,
// and falls once they have been back by Deadband for Off.
type Limit struct {
	Bound    float64
	Deadband float64 // in the unit of the values
	Under    bool    // the bound is a lowest value
	On, Off  time.Duration

	Stands bool
	// Since is when the stretch of values began that made it stand, or that
	// is about to; meaningful while Stands or Pending.
	Since   int64
	Pending bool // values are beyond the bound, not yet for On
	back    int64
	leaving bool
}

// Take judges a value; times may not go back.
func (l *Limit) Take(ms int64, v float64) {
	beyond, within := v-l.Bound, l.Bound-l.Deadband-v
	if l.Under {
		beyond, within = -beyond, v-l.Bound-l.Deadband
	}
	if l.Stands {
		l.leave(ms, within >= 0)
		return
	}
	if beyond <= 0 {
		l.Pending = false
		return
	}
	if !l.Pending {
		l.Pending, l.Since = true, ms
	}
	if passed(l.Since, ms, l.On) {
		l.Stands, l.Pending, l.leaving = true, false, false
	}
}

func (l *Limit) leave(ms int64, within bool) {
	if !within {
		l.leaving = false
		return
	}
	if !l.leaving {
		l.leaving, l.back = true, ms
	}
	if passed(l.back, ms, l.Off) {
		l.Stands, l.leaving = false, false
	}
}

func passed(from, to int64, d time.Duration) bool { return to-from >= d.Milliseconds() }

// Deadbands as shares of the range a quantity has, and delays to either side,
// as EEMUA 191 and ISA-18.2 recommend to begin with (testdata/alarm_benchmarks.csv,
// which says which of them were seen and which remembered). For pH and
// conductivity the row "composition" is the nearest.
const (
	DeadbandFlow        = 0.05
	DeadbandLevel       = 0.02
	DeadbandPressure    = 0.02
	DeadbandTemperature = 0.01
	DeadbandComposition = 0.01

	DelayFlow        = 15 * time.Second
	DelayLevel       = 60 * time.Second
	DelayPressure    = 15 * time.Second
	DelayTemperature = 60 * time.Second
)
