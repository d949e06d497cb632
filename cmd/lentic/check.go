package main

import (
	"fmt"
	"strings"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

type checkCommand struct{ configured }

// Run prints every mistake, or else every warning and then, tank by tank, what
// lentic can and cannot see there.
func (c *checkCommand) Run(b *base) error {
	cfg, problems := config.Load(c.Config, config.OS)
	if err := problems.Err(); err != nil {
		return daemon.WithStatus(daemon.Mistakes, err)
	}
	for _, w := range cfg.Warnings {
		fmt.Println("warning:", w)
	}
	fmt.Printf("%s: no mistakes, %s\n", c.Config, count(len(cfg.Warnings), "warning"))
	for _, s := range config.Sight(cfg) {
		fmt.Printf("\n%s/%s: what lentic can and cannot see here\n", s.Site, s.Tank)
		fmt.Printf("  texts  call it %q", s.Called)
		if s.Short != s.Called {
			fmt.Printf(", or %q where that has no room", s.Short)
		}
		fmt.Printf("\n  sees   %s\n", list(s.Sees))
		for _, why := range reasons(s.Blind) {
			fmt.Printf("  blind  %s: %s\n", why.text, list(why.causes))
		}
	}
	return nil
}

// blindFor is one reason and the causes that are not seen for it.
type blindFor struct {
	text   string
	causes []aquarium.Cause
}

// reasons gathers what has the same reason, in the order of the manual.
func reasons(blind []config.Blindness) (all []blindFor) {
	at := map[string]int{}
	for _, b := range blind {
		i, known := at[b.Why]
		if !known {
			i = len(all)
			at[b.Why] = i
			all = append(all, blindFor{text: b.Why})
		}
		all[i].causes = append(all[i].causes, b.Cause)
	}
	return all
}

func list(causes []aquarium.Cause) string {
	words := make([]string, len(causes))
	for i, c := range causes {
		words[i] = string(c)
	}
	return strings.Join(words, ", ")
}

func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
