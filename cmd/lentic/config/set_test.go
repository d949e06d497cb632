package config

import (
	"strings"
	"testing"
)

func TestSet(t *testing.T) {
	cfg, problems := ParseSet("f.yaml", []byte(base), world(), []Set{
		"atrium.limits.ph=[6.0,8.2]", "quillmere-library/atrium:limits.co2_mg_l=35", "atrium.equipment.co2.target=6.7",
		"atrium.lights={ on: \"10:00\", off: \"18:00\" }", "atrium.sensors.level.every=1m",
	})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	tank := cfg.Sites[0].Tanks[0]
	if r := tank.Limits.PH; r.Lo != 6.0 || r.Hi != 8.2 || tank.Limits.CO2 != 35 || tank.Equipment.CO2.Target != 6.7 || tank.Lights.From != 600 {
		t.Errorf("got %+v %+v %+v", tank.Limits.PH, tank.Limits, tank.Equipment.CO2)
	}
	was, _ := Parse("f.yaml", []byte(base), world())
	if r := was.Sites[0].Tanks[0].Limits.PH; r.Lo != 6.2 {
		t.Errorf("the file itself now says %v", r)
	}
}

func TestSetRefusals(t *testing.T) {
	two := base + `  - { id: hotel-sarnbrook, timezone: UTC, tanks: [ { id: atrium, sensors: { ph: { quantity: ph } },
      equipment: { filters: [] } } ] }
`
	for _, c := range []struct{ name, in, set, want string }{
		{"no form", base, "co2=35", "--set co2=35: want TANK.KEY=VALUE or SITE/TANK.KEY=VALUE, as atrium.limits.co2_mg_l=35"},
		{"no such tank", base, "atrum.limits.ph=[6,8]", `tank "atrum" is not configured: want one of quillmere-library/atrium`},
		{"no such site", base, "quilmere/atrium.limits.ph=[6,8]", `site "quilmere" is not configured`},
		{"which tank", two, "atrium.limits.ph=[6,8]", `tank "atrium" is at several sites: want one of quillmere-library/atrium, hotel-sarnbrook/atrium`},
		{"unknown key", base, "atrium.limits.co2=35", `--set atrium.limits.co2=35:1:19: tank "atrium", limits: unknown key "co2": did you mean co2_mg_l?`},
		{"absurd", base, "atrium.equipment.co2.target=66", `--set atrium.equipment.co2.target=66:1:29: tank "atrium", co2, target: 66 is out of range: want pH from 4 to 9`},
		{"reversed", base, "atrium.limits.ph=[8,6]", `:1:18: tank "atrium", limits, ph: bounds 8 and 6: want the lower one first`},
		{"half a list", base, "atrium.limits.ph=[6.0,", "--set atrium.limits.ph=[6.0,"},
		{"no value", base, "atrium.limits.ph=", "has no value: want one as in the file"},
		{"a key under a value", base, "atrium.equipment.co2.target.x=1", `"x" is under "6.6", which has no keys`},
		{"no such item", two, "hotel-sarnbrook/atrium.equipment.filters.a.rated_l_h=1", `there is no "a" in that list`},
		{"another name", base, "atrium.id=hall", "a tank's id is its name"},
		{"two at once", base, "atrium.limits.ph=[8,6]", "want the lower one first"},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg, problems := ParseSet("f.yaml", []byte(c.in), world(), []Set{Set(c.set)})
			if cfg != nil || !strings.Contains(problems.Error(), c.want) {
				t.Errorf("got %v\nwant %s", problems, c.want)
			}
		})
	}
}
