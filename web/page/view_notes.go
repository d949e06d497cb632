package page

import (
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// notes are what belongs beside a tank on rounds: of one that needs somebody,
// who was told, how to get there and what to bring; of each, when it was heard
// and when somebody was there.
func (v *TankView) notes(now aquarium.Instant) []string {
	last := heard(v.Heard, now, v.Site.Timezone) + ". " + v.lastVisit(now)
	if needOfTank(v, now) > inHand {
		return []string{last}
	}
	first := worst(v.Alarms)[0]
	ns := toldLines(first.Told, now, v.Site)
	if s := access(v.Site); s != "" {
		ns = append(ns, "Getting there: "+s)
	}
	if k := kit[first.Cause]; k != "" {
		ns = append(ns, "Bring: "+lower(k))
	}
	return append(ns, last)
}

func (v *TankView) lastVisit(now aquarium.Instant) string {
	if v.Last == 0 {
		return "No visit is noted yet."
	}
	return "Last visit " + day(v.Last, now, v.Site.Timezone) + "."
}

// toldLines say who was told, when, and what became of it.
func toldLines(ts []Told, now aquarium.Instant, site *aquarium.Site) []string {
	var ls []string
	for _, t := range ts {
		zone := zoneOf(site)
		switch {
		case t.Lost != "":
			ls = append(ls, t.Name+" could not be told by "+string(t.By)+": "+sentence(t.Lost))
		case t.At != 0:
			ls = append(ls, t.Name+" was told by "+string(t.By)+", "+clock(t.At, now, zone)+".")
		default:
			ls = append(ls, t.Name+" is to be told by "+string(t.By)+": due "+clock(t.Due, now, zone)+", not sent yet.")
		}
	}
	return ls
}

// zoneOf is a site's time; nil, which is UTC, for lentic itself.
func zoneOf(site *aquarium.Site) *time.Location {
	if site == nil {
		return nil
	}
	return site.Timezone
}

// access is how to get at the tanks of a site; empty: nothing is noted.
func access(site *aquarium.Site) string {
	if site == nil || site.Access == "" {
		return ""
	}
	s := strings.TrimSuffix(site.Access, ".") + "."
	if site.HoursAs != "" {
		s += " People are there " + site.HoursAs + "."
	}
	return s
}

// lower begins with a small letter, but for what is written large everywhere.
func lower(s string) string {
	if len(s) > 1 && s[1] >= 'a' && s[1] <= 'z' || strings.HasPrefix(s, "A ") {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}
