package web

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestUsual: what is usual at a time of day is told from the two weeks before
// the last day, and not from that day.
func TestUsual(t *testing.T) {
	b := newBench(t, nil)
	site := b.scene.Load().site("quillmere-library")
	tank := site.Tank("atrium")
	for d := 1; d <= 14; d++ {
		for m := 0; m < 24*60; m += 10 {
			at := noon.Add(-time.Duration(d)*24*time.Hour + time.Duration(m)*time.Minute)
			v := 7.0
			if h := at.Hour(); h >= 8 && h < 18 {
				v = 6.6
			}
			if d == 1 {
				v = 5.5 // since yesterday something is wrong
			}
			b.append(aquarium.At(at), v)
		}
	}
	u, ok := b.usual(site, tank)["ph"]
	if !ok || u.Days < 13 {
		t.Fatalf("got %v, %d days, want some 13 of them", ok, u.Days)
	}
	for _, c := range []struct {
		name string
		hour float64
		want float64
	}{{"night", 3, 7.0}, {"noon", 12, 6.6}, {"evening", 21.5, 7.0}} {
		i := int(c.hour * 2)
		if math.Abs(u.Lo[i]-c.want) > 1e-9 || math.Abs(u.Hi[i]-c.want) > 1e-9 {
			t.Errorf("%s: got %.2f to %.2f, want %.2f", c.name, u.Lo[i], u.Hi[i], c.want)
		}
	}
	if _, there := b.usual(site, tank)["valve"]; there {
		t.Error("a switch has a usual course")
	}
}

// TestNothingIsUsualYet: four days tell of no habit.
func TestNothingIsUsualYet(t *testing.T) {
	b := newBench(t, nil)
	for d := 1; d <= 4; d++ {
		b.append(aquarium.At(noon.Add(-time.Duration(d)*24*time.Hour-time.Hour)), 6.6)
	}
	site := b.scene.Load().site("quillmere-library")
	if got := b.usual(site, site.Tank("atrium")); len(got) != 0 {
		t.Errorf("got %v, want nothing", got)
	}
}
