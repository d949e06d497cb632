package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// Of both filters that stop by day within a few minutes hands are the cause, or a socket.
var togetherStories = []scenario{
	{
		name: "by day both filters stop, and water leaves ten minutes later: one visit", every: 10 * time.Second, lasts: 13 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0 700m:0 700m1s:900", "flow-b": "0m:880 660m:880 660m11s:0 700m:0 700m1s:880",
			"level": "0m:0 670m:0 685m:-150 690m:-150 699m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 715 * m, by: 730 * m},
		},
	},
	{
		name: "by day both filters stop and nobody shows himself: they have stalled", lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 672 * m, by: 675 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 672 * m, by: 675 * m, priority: aquarium.High},
		},
	},
	{
		name: "the same, with a splash as they stop: that is no hands for longer", lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "level": "0m:0 660m50s:0 " + choppy(661*m, 662*m) + "662m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 672 * m, by: 675 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 672 * m, by: 675 * m, priority: aquarium.High},
		},
	},
	{
		name: "the same, and the hands go on: somebody works there", every: 10 * time.Second, lasts: 11*h + 45*m,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "level": "0m:0 660m50s:0 " + choppy(661*m, 671*m) + "671m1s:0"},
		want:  []want{{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m, priority: aquarium.Medium}},
	},
	{
		name: "the same, and one of them alone runs again: the other has stalled", lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0 667m:0 667m1s:880"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 667 * m, by: 669 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 667 * m, by: 669 * m, priority: aquarium.Medium},
		},
	},
	{
		name: "the same, and the floor is wet: somebody must go there now", lasts: 12 * h, every: 10 * time.Second,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "wet": "0m:0 665m:0 665m1s:1"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m},
			{event: raisedNow, cause: aquarium.FloorWet, equipment: "floor", after: 665 * m, by: 667 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 665 * m, by: 667 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 665 * m, by: 667 * m, priority: aquarium.High},
		},
	},
	{
		name: "the second filter stops within the minute, as is seen at its next reading: one visit", lasts: 12 * h, every: m,
		paths: map[string]string{"flow-a": "0m:900 659m50s:900 659m51s:0 669m:0 669m1s:900", "flow-b": "0m:880 660m30s:880 660m31s:0 669m:0 669m1s:880"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663*m + 10*time.Second},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 669 * m, by: 671*m + 10*time.Second},
		},
	},
	{
		name: "the floor was wet before: no hands", lasts: 11*h + 30*m,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "wet": "0m:0 658m:0 658m1s:1"},
		want: []want{
			{event: raisedNow, cause: aquarium.FloorWet, equipment: "floor", after: 658 * m, by: 660 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 660 * m, by: 663*m + 10*time.Second, priority: aquarium.High},
		},
	},
	{
		name: "a feeding of ten minutes at an hour that nobody knew of", lasts: 13 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0 670m:0 670m1s:900", "flow-b": "0m:880 660m:880 660m1s:0 670m:0 670m1s:880"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 670 * m, by: 672 * m},
		},
	},
	{
		name: "in the evening both stop", lasts: 20*h + 30*m,
		paths: map[string]string{"flow-a": "0m:900 1200m:900 1200m1s:0", "flow-b": "0m:880 1200m:880 1200m1s:0"},
		want:  []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 1200 * m, by: 1203*m + 10*time.Second, priority: aquarium.High}},
	},
	{
		name: "both are blocked, and a little water still comes: no hands", lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:40", "flow-b": "0m:880 660m:880 660m1s:50"},
		want:  []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 660 * m, by: 663*m + 10*time.Second, priority: aquarium.High}},
	},
	{
		name: "at night both stop", lasts: 5 * h,
		paths: map[string]string{"flow-a": "0m:900 240m:900 240m1s:0", "flow-b": "0m:880 240m:880 240m1s:0"},
		want:  []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 240 * m, by: 243*m + 10*time.Second, priority: aquarium.High}},
	},
	{
		name: "a power cut of four minutes, and neither starts again", lasts: 12 * h,
		paths: map[string]string{"mains": "0m:1 660m:0 664m:1", "flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 660*m - 1, by: 663 * m},
			{event: returnedNow, cause: aquarium.PowerLost, after: 664*m - 1, by: 667 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 667 * m, by: 669 * m, priority: aquarium.High},
		},
	},
	{
		name: "twenty minutes after a power cut both stop: mains may have gone again where nobody sees it", lasts: 12 * h,
		paths: map[string]string{"mains": "0m:1 630m:0 634m:1", "flow-a": "0m:900 630m:900 630m1s:0 634m:0 634m1s:900 655m:900 655m1s:0", "flow-b": "0m:880 630m:880 630m1s:0 634m:0 634m1s:880 655m:880 655m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 630*m - 1, by: 633 * m},
			{event: returnedNow, cause: aquarium.PowerLost, after: 634*m - 1, by: 637 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 655 * m, by: 658*m + 10*time.Second, priority: aquarium.High},
		},
	},
	{
		name: "both stop as is planned, and neither starts again", lasts: 12 * h,
		change: func(t *aquarium.Tank) {
			for i := range t.Equipment.Filters {
				t.Equipment.Filters[i].Stops = []aquarium.Stop{{At: 11 * 60, For: 6 * time.Minute}}
			}
		},
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0"},
		want:  []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 670 * m, by: 671*m + 10*time.Second, priority: aquarium.High}},
	},
	{
		name: "one stops a minute and a half after the other: hands, and the first has been told", lasts: 12 * h, every: 10 * time.Second,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 661m40s:880 661m41s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 661 * m, by: 662 * m, priority: aquarium.Medium},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 662 * m, by: 663 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 662 * m, by: 663 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 672 * m, by: 675 * m},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 672 * m, by: 675 * m, priority: aquarium.High},
		},
	},
	{
		name: "one stops ten minutes after the other: each is told", lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 670m:880 670m1s:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 661 * m, by: 663 * m, priority: aquarium.Medium},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "b", after: 671 * m, by: 673*m + 10*time.Second, priority: aquarium.High},
		},
	},
	{
		name: "both stop, and a leak that began with it is told beside the visit", lasts: 12 * h, every: 10 * time.Second,
		paths: map[string]string{"flow-a": "0m:900 660m:900 660m1s:0", "flow-b": "0m:880 660m:880 660m1s:0", "level": "0m:0 660m:0 720m:-80"}, // some 70 l/h
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 660 * m, by: 663 * m},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 663 * m, by: 668 * m, priority: aquarium.High},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 672 * m, by: 675 * m},
		},
	},
	{
		name: "the water runs out until both filters draw air: no hands", lasts: 12 * h,
		paths: map[string]string{"flow-a": "0m:900 690m:900 690m1s:0", "flow-b": "0m:880 691m:880 691m1s:0", "level": "0m:0 660m:0 690m:-200 720m:-300"},
		want: []want{
			{event: raisedNow, cause: aquarium.WaterLoss, after: 660 * m, by: 666 * m, priority: aquarium.High},
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 691 * m, by: 694 * m},
		},
	},
}

// TestStoppedTogether plays them at a tank that has been known for some weeks: one that
// has not may be fed so.
func TestStoppedTogether(t *testing.T) {
	for _, c := range togetherStories {
		for _, every := range c.intervals() {
			for _, phase := range []time.Duration{0, 7 * time.Second} {
				t.Run(c.name+"/"+every.String()+"+"+phase.String(), func(t *testing.T) {
					site, s := c.setUp()
					s.every, s.phase = every, phase
					w := New(site)
					w.Recall(&Learned{Tank: "atrium", Through: zero, Since: zero.Add(-20 * day)})
					check(t, s.play(w, s.samples(t, site), 0, s.lasts), c.want)
				})
			}
		}
	}
}
