package web

import (
	"net/http"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// TestSheetsAreChosen: with more tanks than a day's round the page asks which,
// reads nothing meanwhile, and makes the sheets of those that are chosen.
func TestSheetsAreChosen(t *testing.T) {
	many := sites()
	for i := range 40 {
		tank := many[1].Tanks[0]
		tank.ID, tank.Name = aquarium.TankID("room-"+string(rune('a'+i%26))+string(rune('a'+i/26))), "Room "+string(rune('A'+i%26))+string(rune('a'+i/26))
		many[1].Tanks = append(many[1].Tanks, tank)
	}
	b := newBench(t, func(o *Options) { o.Sites = many })
	const sheet = `<article class="sheet`
	for _, c := range []struct {
		name, query string
		status      int
		sheets      int
		says        string
	}{
		{"none", "", http.StatusOK, 0, "Which tanks do you visit?"},
		{"two", "?tank=quillmere-library/atrium&tank=hotel-sarnbrook/lobby", http.StatusOK, 2, "Only some of the tanks"},
		{"the same twice", "?tank=hotel-sarnbrook/lobby&tank=hotel-sarnbrook/lobby", http.StatusOK, 1, ""},
		{"an unknown one", "?tank=hotel-sarnbrook/cellar", http.StatusNotFound, 0, ""},
		{"nonsense", "?tank=%00", http.StatusNotFound, 0, ""},
		{"too many", "?" + strings.Join(allOf(many), "&"), http.StatusBadRequest, 0, "24"},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := b.ask(http.MethodGet, "/before"+c.query, "")
			body := res.Body.String()
			if res.Code != c.status {
				t.Errorf("got status %d, want %d", res.Code, c.status)
			}
			if got := strings.Count(body, sheet); got != c.sheets {
				t.Errorf("got %d sheets, want %d", got, c.sheets)
			}
			if !strings.Contains(body, c.says) {
				t.Errorf("the page does not say %q", c.says)
			}
		})
	}
}

func allOf(sites []aquarium.Site) (query []string) {
	for _, s := range sites {
		for _, t := range s.Tanks {
			query = append(query, "tank="+string(s.ID)+"/"+string(t.ID))
		}
	}
	return query
}
