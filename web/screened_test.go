package web

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/screen"
)

// minute is so many minutes before noon.
func minute(before int) aquarium.Instant {
	return aquarium.At(noon.Add(-time.Duration(before) * time.Minute))
}

// inAir is a bench whose atrium's pH has hung in the air for twenty minutes, and
// was an outlier once before.
func inAir(t *testing.T, change func(*Options)) *bench {
	b := newBench(t, change)
	b.desk.remembers = minute(26 * 60)
	b.desk.spells = map[aquarium.SensorID][]screen.Spell{"ph": {
		{From: minute(40), To: minute(40), Quality: aquarium.Spike},
		{From: minute(20), To: minute(0), Quality: aquarium.InAir},
	}}
	return b
}

// TestQuality: the API sets apart what does not count where it is asked to, raw and
// in buckets, and says nothing of it where it is not.
func TestQuality(t *testing.T) {
	b := inAir(t, nil)
	plain := get[readingsAnswer](t, b, ofAtrium+"ph")
	if plain.Screened != nil || plain.NotCounted != nil || len(plain.Poor) != 0 || len(plain.T) != 60 {
		t.Errorf("not asked for: %+v", plain)
	}
	raw := get[readingsAnswer](t, b, ofAtrium+"ph&quality=true")
	if raw.Screened == nil || !*raw.Screened || len(raw.T) != 60 || len(raw.Poor) != 21 || raw.NotCounted == nil {
		t.Fatalf("raw: got %d poor of %d, %v", len(raw.Poor), len(raw.T), raw.NotCounted)
	}
	if x := raw.NotCounted; x.T[0] != minute(40) || x.Quality[0] != "spike" || x.Quality[1] != "air" || len(x.T) != 21 || x.Mean[0] != raw.Mean[20] || x.N[0] != 1 {
		t.Errorf("raw, apart: %+v", x)
	}
	// Buckets of 12 minutes from 11:00: one reading of the second does not count,
	// four of the last eight of the fourth, and all of the fifth.
	some := get[readingsAnswer](t, b, ofAtrium+"ph&quality=true&points=5")
	if !slices.Equal(some.Poor, []int{4}) || len(some.T) != 5 || some.NotCounted == nil {
		t.Fatalf("buckets: poor %v of %d", some.Poor, len(some.T))
	}
	if x := some.NotCounted; !slices.Equal(x.N, []int{1, 8, 12}) || !slices.Equal(x.Quality, []string{"spike", "air", "air"}) || x.T[0] != some.T[1] || x.T[2] != some.T[4] {
		t.Errorf("buckets, apart: %+v", x)
	}
	if counted := some.Max[3] - some.Min[3]; counted > 0.0151 { // four readings, 0.005 apart
		t.Errorf("the fourth bucket still holds what does not count: %v", counted)
	}
	estimate := get[readingsAnswer](t, b, ofAtrium+"co2-estimate&quality=true")
	if len(estimate.T) != 39 || estimate.T[38] >= minute(20) {
		t.Errorf("the estimate rests on %d pHs, the last of %s: want those 39 that count", len(estimate.T), estimate.T[len(estimate.T)-1])
	}
	if w := b.ask("GET", ofAtrium+"ph&quality=yes", ""); w.Code != 400 || !strings.Contains(w.Body.String(), "want true or false") {
		t.Errorf("a wrong word: %d %s", w.Code, w.Body)
	}
	long := get[readingsAnswer](t, b, "/api/v1/readings?site=quillmere-library&tank=atrium&sensor=ph&quality=true&from=2031-02-01T00:00:00Z&to=2031-03-02T12:00:00Z")
	if long.Screened == nil || *long.Screened {
		t.Errorf("a month: screened %v, want false", long.Screened)
	}
}

// TestQualityOfThePast: what the watch no longer remembers is screened once more,
// and joined to what it does; where that fails, that is said.
func TestQualityOfThePast(t *testing.T) {
	var asked [2]aquarium.Instant
	var fail error
	b := inAir(t, func(o *Options) {
		o.Before = func(_ context.Context, k aquarium.TankKey, from, to aquarium.Instant) (map[aquarium.SensorID][]screen.Spell, error) {
			asked = [2]aquarium.Instant{from, to}
			return map[aquarium.SensorID][]screen.Spell{"ph": {{From: minute(50), To: minute(25), Quality: aquarium.Frozen}, {From: minute(20), To: minute(10), Quality: aquarium.Spike}}}, fail
		}
	})
	b.desk.remembers = minute(30) // and that it goes on is not asked here
	got := get[readingsAnswer](t, b, ofAtrium+"ph&quality=true")
	if asked != [2]aquarium.Instant{minute(60), minute(30)} {
		t.Errorf("asked for %v", asked)
	}
	var marks []string
	for i, at := range got.NotCounted.T {
		if q := got.NotCounted.Quality[i]; len(marks) == 0 || !strings.HasSuffix(marks[len(marks)-1], q) {
			marks = append(marks, at.Time().Format("15:04 ")+q)
		}
	}
	if want := []string{"11:10 frozen", "11:40 air"}; !*got.Screened || !slices.Equal(marks, want) || len(got.NotCounted.T) != 20+20 {
		t.Errorf("got %v (%d), want %v", marks, len(got.NotCounted.T), want)
	}
	fail = errors.New("no such page")
	if got = get[readingsAnswer](t, b, ofAtrium+"ph&quality=true"); *got.Screened || len(got.NotCounted.T) != 21 {
		t.Errorf("the past could not be screened: screened %v, %d apart", *got.Screened, len(got.NotCounted.T))
	}
	b.desk.remembers = 0
	if got = get[readingsAnswer](t, b, ofAtrium+"ph&quality=true"); *got.Screened || got.NotCounted != nil {
		t.Errorf("judged anew: screened %v, %v apart", *got.Screened, got.NotCounted)
	}
}

// TestNotCountedNow: the present value says that it does not count, why and since
// when: in the API, on the tank's page and on rounds; and the CO2 that would follow
// from it is the last that did.
func TestNotCountedNow(t *testing.T) {
	b := inAir(t, nil)
	b.append(minute(0), 7.9)
	const words = "not counted: probe in air since 11:40"
	var latest map[aquarium.SensorID]*latestAnswer
	read := func() {
		latest = map[aquarium.SensorID]*latestAnswer{}
		for _, s := range get[[]siteAnswer](t, b, "/api/v1/sites")[0].Tanks[0].Sensors {
			latest[s.ID] = s.Latest
		}
	}
	read()
	if l := latest["ph"]; l.V != 7.9 || l.Quality != "air" || l.NotCounted == nil || *l.NotCounted != (refusedAnswer{"air", minute(20), words}) {
		t.Errorf("pH: %+v, %+v", l, l.NotCounted)
	}
	if l := latest["water"]; l.Quality != "good" || l.NotCounted != nil {
		t.Errorf("water: %+v", l)
	}
	if l := latest["co2-estimate"]; l == nil || l.T != minute(21) || l.NotCounted == nil {
		t.Errorf("CO2: %+v", l)
	}
	for _, path := range []string{"/", "/tank/quillmere-library/atrium"} {
		if body := b.ask("GET", path, "").Body.String(); !strings.Contains(body, words) {
			t.Errorf("%s does not say %q", path, words)
		}
	}
	b.desk.spells = nil
	read()
	if l := latest["ph"]; l.Quality != "good" || l.NotCounted != nil || latest["co2-estimate"].T != minute(0) {
		t.Errorf("it counts again: %+v", l)
	}
}

// BenchmarkMarked draws a day of a sensor at ten seconds, in which a tenth of the
// readings do not count, beside the same day of which nothing is told.
func BenchmarkMarked(b *testing.B) {
	q := Query{From: minute(24 * 60), To: minute(0), Points: 480}
	told := &verdicts{of: map[aquarium.SensorID][]screen.Spell{}, whole: true}
	for h := range 24 {
		told.of["ph"] = append(told.of["ph"], screen.Spell{From: minute(24*60 - 60*h), To: minute(24*60 - 60*h - 6), Quality: aquarium.InAir})
	}
	for name, v := range map[string]*verdicts{"plain": nil, "told": told} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Bucketed(q, func(fn func(aquarium.Sample) bool) error {
					fn = v.mark("ph", fn)
					for i := range 8640 {
						fn(aquarium.Sample{At: q.From + aquarium.Instant(i*10000), Value: 6.6})
					}
					return nil
				}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
