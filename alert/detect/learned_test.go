package detect

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// days is a script of so many days: a probe that rises by the hour and a switch
// that is on a quarter of each.
func days(n int) script {
	s := script{paths: calm(), every: time.Minute, lasts: time.Duration(n) * 24 * h}
	valve, ph := "", ""
	for i := range n * 24 {
		valve += fmt.Sprintf("%dm:1 %dm:0 ", i*60, i*60+15)
		ph += fmt.Sprintf("%dm:%g ", i*60, 6.4+0.01*float64(i%24))
	}
	s.paths["valve"], s.paths["ph"] = valve, ph
	return s
}

func TestLearnsHoursAndDays(t *testing.T) {
	site := library()
	w := New(site)
	s := days(3)
	s.play(w, s.samples(t, site), 0, s.lasts)
	l := w.Learned()[0]
	if l.Since != zero || l.Through != zero.Add(2*day) || l.Days() != 2 {
		t.Fatalf("since %v through %v, %d days; want the two that ended a quarter of an hour ago", l.Since, l.Through, l.Days())
	}
	ph, valve := l.Sensors["ph"], l.Sensors["valve"]
	if len(ph.Hours) != 48 || len(ph.Days) != 2 {
		t.Fatalf("%d hours, %d days", len(ph.Hours), len(ph.Days))
	}
	for i, x := range valve.Hours {
		if x.N != 60 || x.Turns != 1 && i > 0 || x.Mean < 0.249 || x.Mean > 0.251 {
			t.Errorf("hour %d of the valve: %+v, want on a quarter of it, turned on once", i, x)
		}
	}
	if x := ph.Hours[30]; x.N != 60 || math.Abs(x.Low-6.46) > 0.001 || math.Abs(x.High-6.47) > 0.001 || x.Mean < 6.4645 || x.Mean > 6.4655 {
		t.Errorf("06:00 of the second day: %+v", x)
	}
	if d := ph.Days[1]; d.N != 24*60 || math.Abs(d.Low-6.4) > 0.001 || d.Turns != 0 {
		t.Errorf("the second day: %+v", d)
	}
	tank := w.tanks[0]
	for _, c := range []struct {
		at   time.Duration
		want float64
	}{{6 * h, 6.465}, {30 * h, 6.465}, {54 * h, 6.465}} { // learned long ago, yesterday, today
		if got := tank.hourOf(tank.sensors["ph"], zero.Add(c.at)); got.Mean < c.want-0.001 || got.Mean > c.want+0.001 {
			t.Errorf("hour %v: %+v, want %v", c.at, got, c.want)
		}
	}
}

// TestLearnedSurvives: a watch that is handed what was learned, as JSON, and
// warmed up over Memory has learned what one that never stopped has, whenever
// that happens: nothing is counted twice, nothing is missed.
func TestLearnedSurvives(t *testing.T) {
	site := library()
	s := days(5)
	xs := s.samples(t, site)
	whole := New(site)
	for stop := 26 * h; stop <= 4*24*h; stop += 3*h + 10*m {
		w := New(site)
		s.play(w, xs, 0, stop)
		w = again(t, site, s, xs, w.Learned(), stop)
		s.play(w, xs, stop, s.lasts)
		if whole.now == 0 {
			s.play(whole, xs, 0, s.lasts)
		}
		if got, want := w.Learned()[0], whole.Learned()[0]; !reflect.DeepEqual(got, want) {
			g, _ := json.Marshal(got)
			x, _ := json.Marshal(want)
			t.Fatalf("stopped at %v:\ngot  %.600s\nwant %.600s", stop, g, x)
		}
	}
}

// again is a new watch, as after a restart at stop.
func again(t *testing.T, site aquarium.Site, s script, xs []aquarium.Sample, ls []*Learned, stop time.Duration) *Watch {
	t.Helper()
	w := New(site)
	for _, l := range ls {
		b, err := json.Marshal(l)
		if err != nil {
			t.Fatal(err)
		}
		read := new(Learned)
		if err := json.Unmarshal(b, read); err != nil {
			t.Fatal(err)
		}
		w.Recall(read)
	}
	s.play(w, xs, max(0, stop-Memory), stop)
	return w
}

// TestRecall: what no longer is there is left out, a tank that is not known says
// nothing, and after weeks without lentic the days go on without a gap in the
// hours that were not seen.
func TestRecall(t *testing.T) {
	site := library()
	w := New(site)
	w.Recall(&Learned{Tank: "elsewhere", Through: zero})
	w.Recall(&Learned{Tank: "atrium", Through: zero.Add(-40 * day), Since: zero.Add(-50 * day), Sensors: map[aquarium.SensorID]Diary{
		"ph": {Hours: make([]Hour, 240), Days: make([]Day, 10)}, "gone": {Hours: make([]Hour, 240)},
	}})
	s := days(2)
	s.play(w, s.samples(t, site), 0, s.lasts)
	l := w.Learned()[0]
	if _, ok := l.Sensors["gone"]; ok || len(l.Sensors["ph"].Hours) != 48 || len(l.Sensors["ph"].Days) != 12 || l.Sensors["ph"].Hours[23].N != 0 || l.Sensors["ph"].Hours[24].N != 60 {
		t.Errorf("through %v, %d hours, %d days", l.Through, len(l.Sensors["ph"].Hours), len(l.Sensors["ph"].Days))
	}
}

func TestRunningIn(t *testing.T) {
	for _, c := range []struct {
		name     string
		started  time.Time
		cause    aquarium.Cause
		priority aquarium.Priority
		want     bool
	}{
		{"long ago", time.Time{}, aquarium.PHProbeDrift, 0, false},
		{"last week", zero.Time().Add(-7 * day), aquarium.PHProbeDrift, 0, true},
		{"to be planted", zero.Time().Add(7 * day), aquarium.FilterClogging, 0, true},
		{"42 days ago", zero.Time().Add(-42 * day), aquarium.Unusual, 0, false},
		{"what kills is told", zero.Time().Add(-day), aquarium.CO2Overshoot, 0, false},
		{"drift that kills is told", zero.Time().Add(-day), aquarium.PHProbeDrift, aquarium.High, false},
	} {
		site := library()
		site.Tanks[0].Started = c.started
		w := New(site)
		w.now = zero
		s := w.state(aquarium.Identity{Site: site.ID, Tank: "atrium", Cause: c.cause})
		s.last.priority = c.priority
		if got := w.pageOnly(s); got != c.want {
			t.Errorf("%s: page only %v, want %v", c.name, got, c.want)
		}
	}
}

// TestMorningsSurvive: what the mornings of dosing come to is learned alike
// whenever a watch begins anew: in the evening too, when its memory begins after
// the day before had its last gas, and before the day is learned.
func TestMorningsSurvive(t *testing.T) {
	site := library()
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 5*24*h + h}
	ph, valve := "", ""
	for i := range 6 {
		d := i * 24 * 60
		ph += pathAt(d, 0, 7.1) + pathAt(d, 8*60, 7.2) + pathAt(d, 8*60+8, 7.2) + pathAt(d, 9*60, 6.55)
		valve += pathAt(d, 0, 0) + pathAt(d, 8*60, 1) + pathAt(d, 9*60, 0)
		for hour := 10; hour < 17; hour++ {
			ph += pathAt(d, hour*60, 6.65) + pathAt(d, hour*60+15, 6.55)
			valve += pathAt(d, hour*60, 1) + pathAt(d, hour*60+14+i%3, 0)
		}
	}
	s.paths["ph"], s.paths["valve"] = ph, valve
	xs := s.samples(t, site)
	whole := New(site)
	s.play(whole, xs, 0, s.lasts)
	want, vigour := whole.Learned()[0].Drift, whole.Learned()[0].Vigour
	if len(vigour.Duties) < 3 {
		t.Fatalf("uninterrupted: %+v, want some of the valve's shares", vigour)
	}
	if want == nil || want.Mornings != 5 || want.Duty.N < 3 {
		t.Fatalf("uninterrupted: %+v, want five mornings", want)
	}
	for stop := 60 * h; stop <= 4*24*h; stop += 2*h + 10*m {
		w := New(site)
		s.play(w, xs, 0, stop)
		w = again(t, site, s, xs, w.Learned(), stop)
		s.play(w, xs, stop, s.lasts)
		if got := w.Learned()[0].Drift; !reflect.DeepEqual(got, want) {
			t.Errorf("stopped at %v:\ngot  %+v\nwant %+v", stop, got, want)
		}
		if got := w.Learned()[0].Vigour; !reflect.DeepEqual(got, vigour) {
			t.Errorf("stopped at %v:\ngot  %+v\nwant %+v", stop, got, vigour)
		}
	}
}
