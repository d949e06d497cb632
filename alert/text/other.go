package text

import (
	"strconv"
	"strings"

	"lentic/collector/aquarium"
)

// testText ends with what the reader should do, which is nothing.
func testText(to aquarium.Person, at aquarium.Instant) string {
	return "lentic: this is a test for " + shorten(readable(to.Name, string(to.ID)), 40) + ", sent " +
		at.In(to.Timezone).Format("2 Jan 15:04") + ". Alarms will come this way. Nothing is wrong."
}

func visitText(s aquarium.Site, t aquarium.TankID, link string) string {
	p := parts{what: "declared visit has ended by itself", proof: []string{"all alarms are on again"}, act: "Still there? Declare it again."}
	p.tank, p.site = names(aquarium.Alarm{Identity: aquarium.Identity{Site: s.ID, Tank: t}}, s)
	return fit(p, link)
}

func digest(d Day) Mail {
	return Mail{d.head() + " - " + d.date(), d.body()}
}

func (d Day) date() string { return d.At.In(d.To.Timezone).Format("Monday 2 January 2006") }

func (d Day) head() string {
	if len(d.Standing) == 0 {
		return "Nothing stands"
	}
	return count(len(d.Standing), "alarm stands", "alarms stand")
}

func (d Day) body() string {
	var b strings.Builder
	b.WriteString(d.head() + " at " + count(d.tanks(), "tank", "tanks") + " of " + count(len(d.Sites), "site", "sites") + ", " + d.date() + ", " +
		d.At.In(d.To.Timezone).Format("15:04") + ".\n")
	for _, a := range d.Standing {
		b.WriteString("\n" + d.line(a) + "\n")
		if m := meant(a, d.site(a.Site)); m != "" {
			b.WriteString("  " + m + "\n")
		}
		if a.Since > 0 {
			b.WriteString("  " + string(a.Priority.String()) + ", since " + a.Since.In(d.To.Timezone).Format("2 Jan 15:04") + ".")
		}
		b.WriteString(" First: " + Advise(a.Cause).First + "\n")
		if d.URL != "" && a.ID != "" {
			b.WriteString("  " + d.URL + "/alarm/" + string(a.ID) + "\n")
		}
	}
	if len(d.Ended) > 0 {
		b.WriteString("\nBack to normal since the last mail:\n")
		for _, a := range d.Ended {
			b.WriteString("  " + d.line(a) + lasted(a) + "\n")
		}
	}
	b.WriteString("\nA day without this mail means that lentic itself needs a look. It watches what has a sensor, and no oxygen and no ammonia.\n")
	return b.String()
}

// line is one alarm with its place, names as they are: mail is not cut.
func (d Day) line(a aquarium.Alarm) string {
	s := d.site(a.Site)
	place := "lentic"
	if a.Site != "" {
		place = oneLine(s.Name, string(a.Site))
	}
	if a.Tank != "" {
		name := ""
		if t := s.Tank(a.Tank); t != nil {
			name = t.Name
		}
		place = oneLine(name, string(a.Tank)) + ", " + place
	}
	return place + ": " + Sentence(a, s)
}

func oneLine(name, id string) string {
	if n := strings.Join(strings.Fields(name), " "); n != "" {
		return n
	}
	return id
}

func (d Day) site(id aquarium.SiteID) aquarium.Site {
	for _, s := range d.Sites {
		if s.ID == id {
			return s
		}
	}
	return aquarium.Site{ID: id}
}

func (d Day) tanks() (n int) {
	for _, s := range d.Sites {
		n += len(s.Tanks)
	}
	return n
}

// digestText tells the first alarm and how many more there are.
func digestText(d Day) string {
	end := ""
	if valid(d.URL) && d.URL != "" && size(d.URL) < Limit/2 {
		end = " " + d.URL
	}
	t := "lentic, " + d.At.In(d.To.Timezone).Format("Mon 2 Jan") + ": " + strings.ToLower(d.head()[:1]) + d.head()[1:]
	if len(d.Standing) == 0 {
		return t + " at " + count(d.tanks(), "tank", "tanks") + "." + end
	}
	t += ". First: "
	a := d.Standing[0]
	p := compose(Raised, a, d.site(a.Site))
	first := p.place() + ": " + sentence(p.what, p.evidence())
	room := Limit - size(t) - size(end)
	if size(first) > room {
		first = strings.TrimRight(cutTo(first, room-1), " .,:;-") + "."
	}
	return t + first + end
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
