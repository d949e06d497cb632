package main

import (
	"fmt"
	"strings"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
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
	fmt.Printf("%s: no mistakes, %d warnings\n", c.Config, len(cfg.Warnings))
	for _, s := range config.Sight(cfg) {
		fmt.Printf("\n%s/%s: what lentic can and cannot see here\n", s.Site, s.Tank)
		sees := make([]string, len(s.Sees))
		for i, cause := range s.Sees {
			sees[i] = string(cause)
		}
		fmt.Printf("  sees   %s\n", strings.Join(sees, ", "))
		for _, blind := range s.Blind {
			fmt.Printf("  blind  %s: %s\n", blind.Cause, blind.Why)
		}
	}
	return nil
}
