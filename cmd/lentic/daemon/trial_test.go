package daemon

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestTrialJudgesAsBacktest: samples that come one by one find what all of them at
// once do, under the configuration as it is and under another besides.
func TestTrialJudgesAsBacktest(t *testing.T) {
	site := aquarium.Site{ID: "quillmere-library", Timezone: time.UTC, Tanks: []aquarium.Tank{{
		ID: "atrium", Limits: aquarium.Limits{Temperature: &aquarium.Range{Lo: 22, Hi: 28}},
		Sensors: []aquarium.Sensor{{ID: "water", Quantity: aquarium.Temperature}},
	}}}
	other := site
	other.Tanks = slices.Clone(site.Tanks)
	other.Tanks[0].Limits.Temperature = &aquarium.Range{Lo: 22, Hi: 26}
	var samples []aquarium.Sample
	for i := range 3*batchSamples + 7 { // more than a batch
		v := 24 + 3*float64(i%360)/360 + 0.01*float64(i%3)
		samples = append(samples, aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: "atrium", Sensor: "water"}, At: firstDay.Add(time.Duration(i) * time.Minute), Value: v})
	}
	for _, c := range []struct {
		name  string
		other *aquarium.Site
		want  aquarium.Site
	}{{"one", nil, site}, {"the same twice", &site, site}, {"two", &other, other}} {
		t.Run(c.name, func(t *testing.T) {
			trial := NewTrial(site, c.other, nil)
			for _, s := range samples {
				trial.Give(s)
			}
			was, is, span := trial.End()
			wantWas, wantIs := Backtest(site, slices.Values(samples), nil, 0, 0), Backtest(c.want, slices.Values(samples), nil, 0, 0)
			if !reflect.DeepEqual(was, wantWas) || !reflect.DeepEqual(is, wantIs) {
				t.Errorf("%d and %d lines, want %d and %d", len(was), len(is), len(wantWas), len(wantIs))
			}
			if want := (Span{samples[0].At, samples[len(samples)-1].At}); span != want {
				t.Errorf("over %v, want %v", span, want)
			}
			if c.name == "two" && len(is) <= len(was) {
				t.Errorf("%d lines under a narrower bound, %d under the wider: nothing is shown", len(is), len(was))
			}
		})
	}
	dropped := NewTrial(site, &other, nil)
	for _, s := range samples {
		dropped.Give(s)
	}
	dropped.Drop()
}
