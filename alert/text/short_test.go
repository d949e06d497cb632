package text

import (
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// What a text calls places where it has no room for their whole names: words
// that none of the others has, the same in every text.
func TestShorten(t *testing.T) {
	for _, c := range []struct {
		name string
		in   []string
		want []string
	}{
		{"a kind of place tells nothing", []string{"Hotel Sarnbrook"}, []string{"Sarnbrook"}},
		{"two of a kind", []string{"Hotel Sarnbrook", "Hotel Velloway", "Quillmere Library"}, []string{"Sarnbrook", "Velloway", "Quillmere"}},
		{"two wings", []string{"Quillmere Library North Wing", "Quillmere Library South Wing"}, []string{"North", "South"}},
		{"one within another", []string{"Quillmere", "Quillmere Annexe"}, []string{"", "Annexe"}},
		{"told by numbers", []string{"Velloway Clinic 1", "Velloway Clinic 2"}, []string{"Clinic 1", "Clinic 2"}},
		{"told by a hyphen", []string{"Velloway-Ost", "Velloway-West"}, []string{"Ost", "West"}},
		{"nothing but kinds", []string{"The Library", "The Hotel"}, []string{"Library", "Hotel"}},
		{"too long for a short one", []string{"Rehabilitationszentrum Velloway", "Velloway Physiotherapy", "Velloway"}, []string{"Rehabilitationszentrum", "Velloway Physiotherapy", ""}},
		{"transliterated", []string{"Отель Сарнбрук", "Café Žďár"}, []string{"Otel", "Zdar"}},
		{"the same", []string{"Hotel Sarnbrook", "hotel sarnbrook"}, []string{"", ""}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var sites []aquarium.Site
			for i, n := range c.in {
				sites = append(sites, aquarium.Site{ID: aquarium.SiteID("site-" + string(rune('a'+i))), Name: n})
			}
			Shorten(sites)
			for i, s := range sites {
				if s.Short != c.want[i] {
					t.Errorf("%q: got %q, want %q", s.Name, s.Short, c.want[i])
				}
			}
		})
	}
}

// Two hotels stay two, and so do a clinic's rooms, in the longest text there is.
func TestShortNamesStayApart(t *testing.T) {
	tanks := []aquarium.Tank{{ID: "r1", Name: "Treatment room 1"}, {ID: "r2", Name: "Treatment room 2"}}
	sites := []aquarium.Site{{ID: "a", Name: "Hotel Sarnbrook by the Harbour", Tanks: tanks}, {ID: "b", Name: "Hotel Velloway by the Harbour", Tanks: tanks}}
	Shorten(sites)
	seen := map[string]bool{}
	for _, s := range sites {
		for _, id := range []aquarium.TankID{"r1", "r2"} {
			m := Message(Raised, longest(s, id, aquarium.CO2ValveStuck), s, testLink)
			place, _, _ := strings.Cut(m, ":")
			if seen[place] {
				t.Errorf("two places are called %q", place)
			}
			seen[place] = true
		}
	}
	if !seen["Room 1, Sarnbrook"] || !seen["Room 2, Velloway"] {
		t.Errorf("got %v, want short names that tell the places", seen)
	}
}
