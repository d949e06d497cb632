package storetest

import (
	"errors"
	"reflect"
	"strconv"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

// Run checks that fresh makes a store that does what a store must. Each test
// gets one of its own, empty, whose clock stands at Now.
func Run(t *testing.T, fresh func(t *testing.T) Store) {
	for _, c := range []struct {
		name string
		test func(t *testing.T, s Store)
	}{
		{"a reading comes back as it was received", asReceived},
		{"the first value stands", firstStands},
		{"a replaced value is the new one", replaced},
		{"a window is half open and in order", halfOpen},
		{"a window stops when told", stops},
		{"sums are those of the readings", summed},
		{"a failing hook undoes the batch", undone},
		{"documents and readings are one write", oneWrite},
		{"documents", documents},
		{"refusals are bounded for each reason and source", refusals},
		{"unclaimed messages are taken once", unclaimed},
		{"unclaimed messages stay when taking fails", unclaimedStay},
		{"unclaimed messages are bounded by age", unclaimedAge},
		{"records set aside are released with an offset", released},
		{"what has no sensor has no readings", nothing},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := fresh(t)
			c.test(t, s)
			if err := s.Check(); err != nil {
				t.Errorf("check: %v", err)
			}
		})
	}
}

// Now is what the clock of a store under test shows.
var Now = time.Date(2031, 3, 2, 12, 0, 0, 0, time.UTC)

var (
	now = aquarium.At(Now)
	ph  = aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "ph"}
	gw  = aquarium.SensorKey{Site: "quillmere-library", Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor("gw1", aquarium.GatewayMains)}
)

func at(s int) aquarium.Instant { return now.Add(time.Duration(s) * time.Second) }

func reading(s int, v float64) aquarium.Reading {
	return aquarium.Reading{Sensor: ph, At: at(s), Value: v, Unit: "pH"}
}

func put(t *testing.T, s Store, rs ...aquarium.Reading) aquarium.Outcome {
	t.Helper()
	o, err := s.Append(aquarium.Batch{Readings: rs, Arrived: now}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func window(t *testing.T, s Store, k aquarium.SensorKey, from, to aquarium.Instant) []aquarium.Reading {
	t.Helper()
	var rs []aquarium.Reading
	if err := s.Window(k, from, to, func(r aquarium.Reading) bool { rs = append(rs, r); return true }); err != nil {
		t.Fatal(err)
	}
	return rs
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s: got %+v, want %+v", what, got, want)
	}
}

func asReceived(t *testing.T, s Store) {
	want := []aquarium.Reading{
		reading(0, 6.58),
		{Sensor: ph, At: at(1), Value: -171.25, Unit: "mV", Retimed: true},
		{Sensor: ph, At: at(2), Value: 5e-324, Unit: ""},
		{Sensor: ph, At: at(3), Value: -1.7976931348623157e308, Unit: "anything at all"},
	}
	o := put(t, s, append([]aquarium.Reading{{Sensor: gw, At: at(0), Value: 1}}, want...)...)
	same(t, "fresh", len(o.Fresh), 5)
	same(t, "readings", window(t, s, ph, at(0), at(10)), want)
	same(t, "sensors", s.Sensors(), []aquarium.SensorKey{gw, ph})
	first, _ := s.First(ph)
	last, _ := s.Latest(ph)
	same(t, "first", first, want[0])
	same(t, "latest", last, want[3])
}

func firstStands(t *testing.T, s Store) {
	// Twice in one batch, then in another: the same thing happens.
	o := put(t, s, reading(5, 6.6), reading(5, 6.7), reading(5, 6.6), reading(0, 6.5))
	same(t, "one batch", o, aquarium.Outcome{Fresh: []aquarium.Reading{reading(5, 6.6), reading(0, 6.5)}, Repeats: 1, Conflicts: 1})
	o = put(t, s, reading(0, 6.5), reading(5, 6.8))
	same(t, "another", o, aquarium.Outcome{Repeats: 1, Conflicts: 1})
	mv := reading(5, 6.6)
	mv.Unit = "mV"
	same(t, "another unit", put(t, s, mv), aquarium.Outcome{Conflicts: 1})
	same(t, "what stands", window(t, s, ph, at(0), at(10)), []aquarium.Reading{reading(0, 6.5), reading(5, 6.6)})
	same(t, "conflicts", s.Conflicts(2), []record.Conflict{
		{Stands: reading(5, 6.6), Other: mv, Arrived: now}, {Stands: reading(5, 6.6), Other: reading(5, 6.8), Arrived: now},
	})
	last, _ := s.Latest(ph)
	same(t, "latest", last, reading(5, 6.6))
}

func replaced(t *testing.T, s Store) {
	put(t, s, reading(0, 6.5), reading(1, 6.6))
	o, err := s.Replace(aquarium.Batch{Readings: []aquarium.Reading{reading(1, 7), reading(2, 7.1)}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "outcome", o, aquarium.Outcome{Fresh: []aquarium.Reading{reading(1, 7), reading(2, 7.1)}, Conflicts: 1})
	same(t, "what stands", window(t, s, ph, at(0), at(10)), []aquarium.Reading{reading(0, 6.5), reading(1, 7), reading(2, 7.1)})
}

func halfOpen(t *testing.T, s Store) {
	var rs []aquarium.Reading
	for i := range 1000 {
		rs = append(rs, reading(i, float64(i)))
	}
	for i := len(rs) - 1; i >= 0; i -= 7 { // some of them newest first and alone
		put(t, s, rs[i])
	}
	put(t, s, rs...)
	for _, w := range [][2]int{{0, 1000}, {-5, 2000}, {128, 129}, {127, 640}, {300, 300}, {400, 300}, {999, 1000}, {1000, 1001}} {
		var want []aquarium.Reading
		for _, r := range rs {
			if r.At >= at(w[0]) && r.At < at(w[1]) {
				want = append(want, r)
			}
		}
		same(t, strconv.Itoa(w[0])+" to "+strconv.Itoa(w[1]), window(t, s, ph, at(w[0]), at(w[1])), want)
	}
}

func summed(t *testing.T, s Store) {
	mv := reading(700, -170.5)
	mv.Unit = "mV"
	put(t, s, reading(0, 6.5), reading(1, 6.75), mv, reading(599, 6.25), reading(600, 7), reading(4000, 8))
	sums := func(from, to int, width time.Duration) (out []aquarium.Sum) {
		if err := s.Sums(ph, at(from), at(to), width, func(x aquarium.Sum) bool { out = append(out, x); return true }); err != nil {
			t.Error(err)
		}
		return out
	}
	first := aquarium.Sum{At: at(0), Unit: "pH", Good: 3, Min: 6.25, Max: 6.75, Sum: 19.5}
	second := aquarium.Sum{At: at(600), Unit: "pH", Good: 1, Min: 7, Max: 7, Sum: 7}
	other := aquarium.Sum{At: at(600), Unit: "mV", Good: 1, Min: -170.5, Max: -170.5, Sum: -170.5}
	last := aquarium.Sum{At: at(3600), Unit: "pH", Good: 1, Min: 8, Max: 8, Sum: 8}
	same(t, "by ten minutes", sums(0, 5000, 10*time.Minute), []aquarium.Sum{first, second, other, last})
	cut := aquarium.Sum{At: at(0), Unit: "pH", Good: 2, Min: 6.25, Max: 6.75, Sum: 13}
	same(t, "from within one", sums(1, 600, 10*time.Minute), []aquarium.Sum{cut})
	same(t, "none", sums(5000, 6000, time.Hour), []aquarium.Sum(nil))
	n := 0
	if err := s.Sums(ph, at(0), at(5000), time.Second, func(aquarium.Sum) bool { n++; return n < 2 }); err != nil || n != 2 {
		t.Errorf("after being told to stop: %d calls, %v", n, err)
	}
}

func stops(t *testing.T, s Store) {
	put(t, s, reading(0, 1), reading(1, 2), reading(2, 3))
	n := 0
	if err := s.Window(ph, 0, at(10), func(aquarium.Reading) bool { n++; return n < 2 }); err != nil {
		t.Fatal(err)
	}
	same(t, "calls", n, 2)
}

func undone(t *testing.T, s Store) {
	no := errors.New("no")
	_, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{reading(0, 1)}, Refused: []aquarium.Refusal{{Reason: aquarium.ReasonUnit}}},
		func(tx ledger.Tx, o aquarium.Outcome) error {
			same(t, "fresh in the hook", o.Fresh, []aquarium.Reading{reading(0, 1)})
			if err := tx.Put("marks", "a", 1); err != nil {
				t.Error(err)
			}
			return no
		})
	if !errors.Is(err, no) {
		t.Errorf("got %v, want the hook's error", err)
	}
	same(t, "readings", len(window(t, s, ph, at(0), at(1))), 0)
	same(t, "sensors", len(s.Sensors()), 0)
	same(t, "refused", len(s.Refused(10)), 0)
	same(t, "mark", mark(t, s), 0)
	same(t, "afterwards", len(put(t, s, reading(0, 2)).Fresh), 1)
}

func mark(t *testing.T, s Store) (n int) {
	t.Helper()
	if err := s.View(func(tx ledger.Tx) error { _, err := tx.Get("marks", "a", &n); return err }); err != nil {
		t.Error(err)
	}
	return n
}

func oneWrite(t *testing.T, s Store) {
	_, err := s.Append(aquarium.Batch{Readings: []aquarium.Reading{reading(0, 1)}}, func(tx ledger.Tx, _ aquarium.Outcome) error {
		return tx.Put("marks", "a", 7)
	})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "mark", mark(t, s), 7)
}

func nothing(t *testing.T, s Store) {
	_, ok := s.Latest(ph)
	same(t, "latest", ok, false)
	_, ok = s.First(ph)
	same(t, "first", ok, false)
	same(t, "window", len(window(t, s, ph, 0, at(0))), 0)
	same(t, "id", len(s.ID()), 32)
}
