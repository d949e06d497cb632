package detect

import "testing"

// TestStrangeLevel: in its first hours a level must rise by more to be a siphon's, for it
// may wander; once it is known by how much, that counts.
func TestStrangeLevel(t *testing.T) {
	site := library()
	tank := newTank(site.ID, &site.Tanks[0])
	if got := tank.sure(alone).least; got != strangeLeast {
		t.Errorf("least rise of a strange level %g, want %g", got, strangeLeast)
	}
	if got := tank.sure(falling).least; got != falling.least {
		t.Errorf("least fall of a strange level %g, want %g", got, falling.least)
	}
	tank.vessel.waver.short.noise = 0.3
	if got := tank.sure(alone).least; got != alone.least {
		t.Errorf("least rise of a level that is known %g, want %g", got, alone.least)
	}
}
