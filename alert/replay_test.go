package alert

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// plodding is a watch that looks at every step.
type plodding struct {
	watch
	ticks int
}

func (w *plodding) Next(t aquarium.Instant) aquarium.Instant { return t.Add(aquarium.Step) }

func (w *plodding) Tick(t aquarium.Instant) []aquarium.Transition {
	w.ticks++
	return w.watch.Tick(t)
}

// brisk is a watch that counts its ticks.
type brisk struct {
	watch
	ticks int
}

func (w *brisk) Tick(t aquarium.Instant) []aquarium.Transition {
	w.ticks++
	return w.watch.Tick(t)
}

// TestSilenceIsPassedOver: nothing is said otherwise, down to the last fact,
// where weeks without a reading are not looked at step by step.
func TestSilenceIsPassedOver(t *testing.T) {
	begin := aquarium.At(time.Date(2031, 3, 2, 6, 0, 0, 0, time.UTC))
	gap := 23*24*time.Hour + 7*time.Minute
	site := aquarium.Site{ID: library, Timezone: time.UTC, Tanks: []aquarium.Tank{{
		ID: atrium, AlkalinityDKH: 4, Limits: aquarium.Limits{PH: &aquarium.Range{Lo: 6.2, Hi: 8.4}},
		Sensors: []aquarium.Sensor{{ID: "ph", Quantity: aquarium.PH}, {ID: "flow-a", Quantity: aquarium.Flow}, {ID: "valve", Quantity: aquarium.Switch}},
		Equipment: aquarium.Equipment{
			CO2:     &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve", Hours: &aquarium.Span{From: 480, To: 1020}},
			Filters: []aquarium.Filter{{ID: "a", Flow: "flow-a", RatedLH: 1100}},
		},
	}}}
	for _, tt := range []struct {
		name          string
		before, after float64 // the flow
		ph            float64
		onChange      bool // the valve says only when it changes, for ever
		journal       []aquarium.Entry
		most          int // ticks, of all there are
	}{
		{name: "healthy", before: 900, after: 900, ph: 6.6, most: 40},
		{name: "a filter stalled before", before: 0, after: 900, ph: 6.6, most: 40},
		{name: "and afterwards", before: 900, after: 0, ph: 6.6, most: 40},
		{name: "acid water", before: 900, after: 900, ph: 6.1, most: 40},
		{name: "a visit in between", before: 0, after: 0, ph: 6.6, most: 40,
			journal: []aquarium.Entry{{ID: "v", Kind: aquarium.Visit, Site: library, Tank: atrium, At: begin.Add(9*24*time.Hour + 3*time.Second), Until: begin.Add(10 * 24 * time.Hour)}}},
		{name: "deaf meanwhile", before: 0, after: 900, ph: 6.6, most: 40,
			journal: []aquarium.Entry{{ID: "d", Kind: aquarium.Deaf, At: begin.Add(9 * 24 * time.Hour), Until: begin.Add(12*24*time.Hour + 5*time.Second)}}},
		{name: "a switch that holds", before: 900, after: 900, ph: 6.6, onChange: true, most: 100},
	} {
		t.Run(tt.name, func(t *testing.T) {
			site := site
			site.Tanks = slices.Clone(site.Tanks)
			site.Tanks[0].Sensors = slices.Clone(site.Tanks[0].Sensors)
			site.Tanks[0].Sensors[2].OnChange = tt.onChange
			var samples []aquarium.Sample
			for _, part := range []struct {
				from aquarium.Instant
				flow float64
			}{{begin, tt.before}, {begin.Add(5*time.Hour + gap), tt.after}} {
				for d := time.Duration(0); d < 5*time.Hour; d += time.Minute {
					for id, v := range map[aquarium.SensorID]float64{"ph": tt.ph, "flow-a": part.flow, "valve": 1} {
						samples = append(samples, aquarium.Sample{Sensor: sensor(id), At: part.from.Add(d), Value: v + float64(d%7)/100})
					}
				}
			}
			inOrder(samples)
			told := func(w watch) (lines []string) {
				r := replay{watch: w, site: site, samples: slices.Values(samples), journal: tt.journal, from: begin.Add(-aquarium.Step), to: begin.Add(10*time.Hour + gap)}
				r.run(func(x aquarium.Transition) {
					b, err := json.Marshal(x)
					if err != nil {
						t.Fatal(err)
					}
					lines = append(lines, string(b))
				})
				return lines
			}
			all, some := &plodding{watch: newWatch(site)}, &brisk{watch: newWatch(site)}
			want, got := told(all), told(some)
			if !slices.Equal(got, want) {
				for i := range max(len(got), len(want)) {
					if g, w := slices.Concat(got, make([]string, len(want)))[i], slices.Concat(want, make([]string, len(got)))[i]; g != w {
						t.Fatalf("told %d and want %d; the first to differ is\n%s\nwant\n%s", len(got), len(want), g, w)
					}
				}
			}
			if len(want) == 0 {
				t.Error("nothing is told: nothing is shown")
			}
			if some.ticks > all.ticks*tt.most/100 {
				t.Errorf("%d ticks of %d, want at most %d %%", some.ticks, all.ticks, tt.most)
			}
		})
	}
}
