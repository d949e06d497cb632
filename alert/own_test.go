package alert

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestDiskHovers: free space that swings about its limit of 10 GiB for an hour
// is told once, also over a restart, and is over when it has been a tenth above
// for ten minutes.
func TestDiskHovers(t *testing.T) {
	inWorld(t, func(w *world) {
		w.up()
		look := func(gib float64) {
			t.Helper()
			if err := w.desk.Own(aquarium.DiskLow, gib < 10, aquarium.Evidence{Value: gib, Unit: "GiB"}); err != nil {
				t.Fatal(err)
			}
			w.pass(10 * time.Second)
		}
		look(2) // far down at first, so that the edge is learned
		for i := range 360 {
			look([]float64{9.9, 10.1, 10.9}[i%3])
			if i == 180 {
				w.down()
				w.up()
			}
		}
		w.wantTexts("keeper", 1+3) // raised, and again after 20, 35 and 50 min
		for range 90 {             // within the deadband: not over, however long
			look(10.5)
		}
		if a := w.one(); !a.Active {
			t.Fatalf("over within the deadband: %+v", a)
		}
		if _, err := w.desk.Acknowledge(w.one().ID, "keeper", ""); err != nil {
			t.Fatal(err)
		}
		n := len(w.texts.to("keeper"))
		for range 59 {
			look(12)
		}
		if a := w.one(); !a.Active {
			t.Error("over before ten minutes have passed")
		}
		look(12)
		look(12)
		if as, err := w.desk.Alarms(Filter{Standing: true}); err != nil || len(as) != 0 {
			t.Errorf("not over after ten minutes: %v %v", as, err)
		}
		w.wantTexts("keeper", n+1)
	})
}
