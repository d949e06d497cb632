package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// usualAt is when the filters of a tank pause as a rule: of the times that are
// configured or were seen, the one nearest to now; nothing where there is none. It is
// told of filters that stand at another.
func (t *tank) usualAt(v *view, filters ...aquarium.Filter) []aquarium.Excluded {
	var nearest aquarium.Clock
	least := time.Duration(-1)
	near := func(c aquarium.Clock) {
		apart := (c - t.clock + dayMinutes) % dayMinutes
		if d := time.Duration(min(apart, dayMinutes-apart)) * time.Minute; least < 0 || d < least {
			nearest, least = c, d
		}
	}
	for _, f := range filters {
		for _, s := range f.Stops {
			near(s.At)
		}
	}
	for _, p := range t.learned.Pauses {
		near(aquarium.ClockOf(p.From.In(v.w.site.Timezone)))
	}
	if least < 0 {
		return nil
	}
	return []aquarium.Excluded{{What: aquarium.LookStop, Because: word(FactUsualAt, nearest.String())}}
}
