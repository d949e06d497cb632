package text

import (
	"strconv"
	"strings"

	"lentic/collector/aquarium"
)

func testText(to aquarium.Person, at aquarium.Instant) string {
	return cutTo("lentic: this is a test for "+shorten(readable(to.Name, string(to.ID)), 40)+", sent "+
		at.In(to.Timezone).Format("2 Jan 15:04")+". Alarms will come this way. Nothing is wrong.", Limit)
}

func visitText(s aquarium.Site, t aquarium.TankID, link string) string {
	p := parts{what: "declared visit has ended by itself", proof: "all alarms are on again", act: "Still there? Declare it again."}
	p.tank, p.site = names(aquarium.Alarm{Identity: aquarium.Identity{Site: s.ID, Tank: t}}, s)
	return fit(p, link)
}

func digest(d Day) Mail {
	date := d.At.In(d.To.Timezone).Format("Monday 2 January")
	if len(d.Standing) == 0 {
		return Mail{"Nothing stands - " + date, digestBody(d)}
	}
	return Mail{count(len(d.Standing), "alarm stands", "alarms stand") + " - " + date, digestBody(d)}
}

func digestBody(d Day) string {
	var b strings.Builder
	for _, a := range d.Standing {
		b.WriteString(string(a.Cause))
	}
	return b.String()
}

func digestText(d Day) string { return cutTo(GSM7(digest(d).Subject), Limit) }

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
