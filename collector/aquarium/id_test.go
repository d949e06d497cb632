package aquarium

import (
	"strings"
	"testing"
)

func TestCheckID(t *testing.T) {
	for _, c := range []struct {
		name, id string
		ok       bool
	}{
		{"plain", "quillmere-library", true},
		{"digit first", "2-north", true},
		{"longest", strings.Repeat("a", 32), true},
		{"empty", "", false},
		{"too long", strings.Repeat("a", 33), false},
		{"hyphen first", "-a", false},
		{"capital", "Atrium", false},
		{"site-wide", string(SiteWide), false},
		{"slash", "a/b", false},
		{"not ASCII", "é", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := CheckID(c.id)
			if (err == nil) != c.ok {
				t.Errorf("CheckID(%q): got %v, want ok %v", c.id, err, c.ok)
			}
			if err != nil && len(err.Error()) > 200 {
				t.Errorf("the error has %d characters", len(err.Error()))
			}
		})
	}
}
