package detect

import (
	"math"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestCompanyBits(t *testing.T) {
	through := zero.Add(2 * day)
	c := Company{Odd: []uint32{1 << 3, 1 << 23}} // 03:00 of the first day, 23:00 of the second
	for h := range 60 {
		at := zero.Add(hours(h))
		if got, want := c.odd(through, at), h == 3 || h == 24+23; got != want {
			t.Errorf("hour %d: %v, want %v", h, got, want)
		}
	}
	if c.disturbed(through, zero) || c.odd(through, zero.Add(-hours(30))) {
		t.Error("an hour of which nothing is known is out of order")
	}
}

// TestCalm: hours before something went out of order are not learned from, and
// none that was disturbed.
func TestCalm(t *testing.T) {
	l := &Learned{Through: zero.Add(3 * day), Company: Company{Odd: []uint32{0, 0, 1 << 2}, Disturbed: []uint32{1 << 5, 0, 0}}}
	got := l.calm(72)
	if len(got) != 72-1-25 || got[0] != zero || got[4] != zero.Add(4*time.Hour) || got[5] != zero.Add(6*time.Hour) {
		t.Errorf("%d hours from %v, the sixth %v", len(got), got[0], got[5])
	}
	if at := got[24]; at != zero.Add(25*time.Hour) || got[25] != zero.Add(51*time.Hour) {
		t.Errorf("%v, then %v: want the day before 50 h and that hour left out", at, got[25])
	}
}

// TestAnHourSoonerIsNoChange: the lights' hours moved, or the clocks.
func TestAnHourSoonerIsNoChange(t *testing.T) {
	site := library()
	w := New(site)
	tank := w.tanks[0]
	s := days(2)
	s.play(w, s.samples(t, site), 0, s.lasts)
	a := &accord{members: []member{{s: tank.sensors["ph"], least: 0.03}}, usual: make([][24]float64, 1)}
	for h := range 24 {
		a.usual[0][h] = 6.4 + 0.01*float64((h+1)%24) // what the script says, an hour early
	}
	for h := range 24 {
		if got := a.row(w, tank, zero.Add(hours(h)))[0]; math.Abs(got) > 0.006 { // an hour's mean lies between two
			t.Errorf("hour %d: %v from what is usual, want nearly none", h, got)
		}
	}
	a.usual[0] = [24]float64{}
	if got := a.row(w, tank, zero.Add(hours(6)))[0]; math.Abs(got-6.465) > 0.001 {
		t.Errorf("%v, want the whole of it", got)
	}
}

func TestMembers(t *testing.T) {
	site := complete()
	judged, given := map[aquarium.SensorID]bool{}, map[aquarium.SensorID]bool{}
	for _, m := range New(site).tanks[0].members() {
		if m.given {
			given[m.s.config.ID] = true
		} else {
			judged[m.s.config.ID] = true
		}
	}
	for _, id := range []aquarium.SensorID{"ph", "level", "flow-a", "flow-b", "valve", "heat"} {
		if !judged[id] {
			t.Errorf("%s is not judged", id)
		}
	}
	for _, id := range []aquarium.SensorID{"water"} {
		if !given[id] {
			t.Errorf("%s does not explain", id)
		}
	}
	for _, id := range []aquarium.SensorID{"topoff", "mains", "wet", "dose"} {
		if judged[id] || given[id] {
			t.Errorf("%s is a part", id)
		}
	}
}

// BenchmarkCompany is a day of one tank: its hours, and what is learned of it. The
// limit for a tank-year is 15 s in all.
func BenchmarkCompany(b *testing.B) {
	site := complete()
	w := New(site)
	s := days(16)
	s.every = 10 * time.Minute
	s.play(w, s.samples(b, site), 0, s.lasts)
	t := w.tanks[0]
	t.company.turn(w, t)
	if t.company.accord == nil {
		b.Fatal("nothing was learned")
	}
	b.ReportAllocs()
	for b.Loop() {
		t.company.turn(w, t)
		for range 24 {
			t.company.next = t.learned.Through.Add(-hours(1))
			t.company.take(w, t)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)*365/1e9, "s/tank-year")
}
