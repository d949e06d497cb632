package alert

import (
	"testing"
	"time"

	"lentic/alert/detect"
	"lentic/collector/aquarium"
)

// scholar is a simple watch that has learned of its tank, and tells what it was
// handed.
type scholar struct {
	*simple
	recalled *[]aquarium.Instant
}

func (w scholar) Recall(l *detect.Learned) { *w.recalled = append(*w.recalled, l.Through) }
func (w scholar) Learned() []*detect.Learned {
	return []*detect.Learned{{Tank: atrium, Through: 1941408000000}}
}

// TestLearnedAtOnce: what a start learned from stored weeks is kept with its first
// mark, so that one that ends right afterwards need not be followed by another that
// takes as long.
func TestLearnedAtOnce(t *testing.T) {
	inWorld(t, func(w *world) {
		var recalled []aquarium.Instant
		w.watch = func(s aquarium.Site) watch { return scholar{newSimple(s).(*simple), &recalled} }
		w.up()
		w.pass(time.Second) // no tick yet
		w.down()
		if len(recalled) != 0 {
			t.Fatalf("the first start was handed %v, want nothing", recalled)
		}
		w.up()
		if len(recalled) != 1 || recalled[0] != 1941408000000 {
			t.Errorf("the second start was handed %v, want what the first had learned", recalled)
		}
	})
}
