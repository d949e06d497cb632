package page

import (
	"fmt"
	"math"
	"time"

	"lentic/collector/aquarium"
)

// quiet is how long a whole tank may say nothing before its page says so: the
// time after which a site counts as silent.
const quiet = 20 * time.Minute

// doing is the one sentence on a tank about which no alarm stands.
func doing(v *TankView, now aquarium.Instant) string {
	switch {
	case v.Heard == 0:
		return fmt.Sprintf("Nothing heard yet. Its gateway publishes to lentic/%s/%s, or to the topics of its sensors.", v.Site.ID, v.Tank.ID)
	case now.Sub(v.Heard) > quiet:
		return fmt.Sprintf("Nothing heard since %s, %s; what stands here is the last known. Look at the gateway and its power first.",
			clock(v.Heard, now, v.Site.Timezone), ago(v.Heard, now))
	case v.Visit != nil:
		until := ""
		if v.Visit.Until != 0 {
			until = " until " + clock(v.Visit.Until, now, v.Site.Timezone)
		}
		return "Somebody is working here" + until + ": what hands disturb is not judged; CO2, wet floors and power are."
	}
	well, ill := account(v, now)
	start := "As it should be: "
	if len(ill) > 0 {
		start, well = "No alarm, yet not quite as it should be: ", append(ill, well...)
	}
	if len(well) == 0 {
		return "It reports, and nothing of it is read against a target."
	}
	return start + list(well) + "." + runningIn(v, now)
}

// account says each part of the tank in words: what is as it should be, and
// what is not.
func account(v *TankView, now aquarium.Instant) (well, ill []string) {
	say := func(ok bool, format string, a ...any) {
		if s := fmt.Sprintf(format, a...); ok {
			well = append(well, s)
		} else {
			ill = append(ill, s)
		}
	}
	e, rs := &v.Tank.Equipment, roles(v.Tank)
	live := func(id aquarium.SensorID) (float64, bool) {
		l, ok := value(v.Latest, id)
		return l.Value, ok && l.live(now) && l.Quality.Judged()
	}
	for _, l := range v.Latest {
		if l.live(now) && !l.Quality.Judged() && l.Sensor.ID != CO2Estimate.ID {
			say(false, "%s is %s", rs[l.Sensor.ID].name, l.uncounted(now, v.Site.Timezone))
		}
	}
	if e.CO2 != nil {
		if ph, ok := live(e.CO2.PH); ok {
			sayPH(say, e.CO2, ph, aquarium.ClockOf(now.In(v.Site.Timezone)))
		}
	}
	temp := shape{unit: "°C", digits: 1}
	if e.Heater != nil {
		if c, ok := live(e.Heater.Temperature); ok {
			// A degree to either side is what a heater's own hysteresis and a
			// warm room explain: common practice, no source.
			say(math.Abs(c-e.Heater.Target) <= 1, "the water has %s", temp.full(c))
		}
	}
	if e.TopOff != nil {
		if mm, ok := live(e.TopOff.Level); ok {
			sayLevel(say, e.TopOff, mm)
		}
	}
	sayFilters(say, e.Filters, live)
	return well, ill
}

type sayer = func(ok bool, format string, a ...any)

// near is how far a pH may stand from its target and still be called held:
// twice the band, and no less than 0.1, which is what probes agree to in daily
// use (common practice, no source).
func near(band float64) float64 { return math.Max(2*band, 0.1) }

func sayPH(say sayer, c *aquarium.CO2, ph float64, at aquarium.Clock) {
	f := shape{digits: 2}
	switch {
	case c.Hours != nil && !c.Hours.Contains(at):
		say(true, "CO2 rests until %s and pH is %s", c.Hours.From, f.bare(ph))
	case math.Abs(ph-c.Target) <= near(c.Band):
		say(true, "pH %s is held near its target of %s", f.bare(ph), f.bare(c.Target))
	case ph > c.Target:
		say(true, "pH %s is on its way down to %s", f.bare(ph), f.bare(c.Target))
	default:
		say(false, "pH %s is under its target of %s", f.bare(ph), f.bare(c.Target))
	}
}

func sayLevel(say sayer, t *aquarium.TopOff, mm float64) {
	f := shape{unit: "mm"}
	band := math.Max(t.BandMM, 1)
	switch {
	case math.Abs(mm) <= band+1:
		say(true, "the level is at its mark")
	case mm < 0:
		say(false, "the level is %s under its mark", f.full(-mm))
	default:
		say(false, "the level is %s over its mark", f.full(mm))
	}
}

func sayFilters(say sayer, fs []aquarium.Filter, live func(aquarium.SensorID) (float64, bool)) {
	running, known := 0, 0
	for _, f := range fs {
		lh, ok := live(f.Flow)
		if !ok {
			continue
		}
		known++
		// A tenth of what it is rated for is flow that is nearly gone.
		if lh > math.Max(f.RatedLH*0.1, 1) {
			running++
			continue
		}
		say(false, "filter %s stands still", f.ID)
	}
	switch {
	case known == 0 || running < known:
	case known == 1:
		say(true, "its filter runs")
	case known == 2:
		say(true, "both filters run")
	default:
		say(true, "all %d filters run", known)
	}
}

// runningIn says how long a young tank's water is not yet its own.
func runningIn(v *TankView, now aquarium.Instant) string {
	if v.Tank.Started.IsZero() {
		return ""
	}
	end := aquarium.At(v.Tank.Started.Add(aquarium.RunningIn))
	if now >= end {
		return ""
	}
	return " It is running in until " + day(end, now, v.Site.Timezone) + "."
}
