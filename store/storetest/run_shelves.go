package storetest

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/record"
)

func documents(t *testing.T, s Store) { RunLedger(t, s) }

// RunLedger checks that an empty ledger does what a ledger must.
func RunLedger(t *testing.T, l ledger.Ledger) {
	t.Helper()
	update := func(fn func(tx ledger.Tx) error) {
		t.Helper()
		if err := l.Update(fn); err != nil {
			t.Fatal(err)
		}
	}
	update(func(tx ledger.Tx) error {
		return errors.Join(tx.Put("b", "k2", "two"), tx.Put("b", "k1", "one"), tx.Put("b", "l", "three"), tx.Put("c", "k1", "other"),
			tx.Delete("b", "none"), tx.Delete("nowhere", "none"))
	})
	no := errors.New("no")
	err := l.Update(func(tx ledger.Tx) error {
		return errors.Join(tx.Put("b", "k1", "changed"), tx.Delete("b", "k2"), tx.Put("new", "k", 1), no)
	})
	if !errors.Is(err, no) {
		t.Errorf("got %v, want the error of the transaction", err)
	}
	each := func(tx ledger.Tx, from, to string) (got []string) {
		if err := tx.Each("b", from, to, func(k string, doc []byte) bool {
			got = append(got, k+"="+string(doc))
			return true
		}); err != nil {
			t.Error(err)
		}
		return got
	}
	err = l.View(func(tx ledger.Tx) error {
		same(t, "all", each(tx, "", ""), []string{`k1="one"`, `k2="two"`, `l="three"`})
		same(t, "from", each(tx, "k2", ""), []string{`k2="two"`, `l="three"`})
		same(t, "to", each(tx, "k", "l"), []string{`k1="one"`, `k2="two"`})
		var v string
		found, err := tx.Get("new", "k", &v)
		same(t, "undone shelf", found, false)
		if !errors.Is(tx.Put("b", "x", 1), ledger.ErrReadOnly) || !errors.Is(tx.Delete("b", "k1"), ledger.ErrReadOnly) {
			t.Error("a view can be written in")
		}
		var n int
		if _, err := tx.Get("b", "k1", &n); err == nil {
			t.Error("a word decoded into a number is no error")
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	update(func(tx ledger.Tx) error {
		if tx.Put("", "k", 1) == nil || tx.Put("b", "", 1) == nil {
			t.Error("a document without a name was put")
		}
		err := errors.Join(tx.Delete("b", "k2"), tx.Put("b", "k0", "zero"))
		same(t, "within the transaction", each(tx, "", ""), []string{`k0="zero"`, `k1="one"`, `l="three"`})
		return err
	})
}

func refusals(t *testing.T, s Store) {
	for round := range 30 {
		var b aquarium.Batch
		for source := range 60 {
			b.Refused = append(b.Refused, aquarium.Refusal{
				Topic: "lentic/x", Reason: aquarium.ReasonSyntax, Detail: fmt.Sprint(round), Source: fmt.Sprint(source),
				Payload: make([]byte, 2000), Arrived: at(round),
			})
		}
		if _, err := s.Append(b, nil); err != nil {
			t.Fatal(err)
		}
	}
	all := s.Refused(1 << 20)
	same(t, "kept", len(all), record.RefusedAll)
	same(t, "newest first", all[0].Detail+" "+all[0].Source, "29 59")
	same(t, "payload", len(all[0].Payload), record.RefusedPayload)
	same(t, "limit", len(s.Refused(3)), 3)

	var flood aquarium.Batch
	for i := range 5000 {
		flood.Refused = append(flood.Refused, aquarium.Refusal{Reason: aquarium.ReasonKind, Source: "gw1", Detail: fmt.Sprint(i)})
	}
	if _, err := s.Append(flood, nil); err != nil {
		t.Fatal(err)
	}
	all = s.Refused(1 << 20)
	of := 0
	for _, r := range all {
		if r.Source == "gw1" {
			of++
		}
	}
	same(t, "of a flood", of, record.RefusedEach)
	same(t, "of others", len(all)-of, record.RefusedAll-record.RefusedEach)
}

func message(topic string, s int) aquarium.Unclaimed {
	return aquarium.Unclaimed{Topic: topic, Payload: []byte(fmt.Sprint(s)), Arrived: at(s)}
}

func unclaimed(t *testing.T, s Store) {
	if _, err := s.Append(aquarium.Batch{Arrived: now, Unclaimed: []aquarium.Unclaimed{
		message("a", 0), message("b", 1), message("a", 2), message("c", 3),
	}}, nil); err != nil {
		t.Fatal(err)
	}
	same(t, "topics", s.UnclaimedTopics(), []record.Topic{
		{Topic: "a", Messages: 2, Bytes: 2, Oldest: at(0), Newest: at(2), Last: []byte("2")},
		{Topic: "b", Messages: 1, Bytes: 1, Oldest: at(1), Newest: at(1), Last: []byte("1")},
		{Topic: "c", Messages: 1, Bytes: 1, Oldest: at(3), Newest: at(3), Last: []byte("3")},
	})
	var got []aquarium.Unclaimed
	n, err := s.TakeUnclaimed([]string{"a", "c", "none"}, func(us []aquarium.Unclaimed) error {
		got = append(got, us...)
		// What is adopted is appended, and more may arrive meanwhile.
		_, err := s.Append(aquarium.Batch{Arrived: now, Readings: []aquarium.Reading{reading(0, 1)}, Unclaimed: []aquarium.Unclaimed{message("b", 4)}}, nil)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "taken", n, 3)
	same(t, "messages", got, []aquarium.Unclaimed{message("a", 0), message("a", 2), message("c", 3)})
	n, err = s.TakeUnclaimed([]string{"a", "c"}, func([]aquarium.Unclaimed) error { t.Error("called with nothing to take"); return nil })
	same(t, "again", n, 0)
	same(t, "error", err, nil)
	same(t, "left", len(s.UnclaimedTopics()), 1)
}

func unclaimedStay(t *testing.T, s Store) {
	if _, err := s.Append(aquarium.Batch{Arrived: now, Unclaimed: []aquarium.Unclaimed{message("a", 0)}}, nil); err != nil {
		t.Fatal(err)
	}
	no := errors.New("no")
	n, err := s.TakeUnclaimed([]string{"a"}, func([]aquarium.Unclaimed) error { return no })
	same(t, "taken", n, 0)
	if !errors.Is(err, no) {
		t.Errorf("got %v, want the caller's error", err)
	}
	same(t, "left", len(s.UnclaimedTopics()), 1)
}

func unclaimedAge(t *testing.T, s Store) {
	day := 24 * 60 * 60
	for _, d := range []int{0, 1, 14, 15} {
		b := aquarium.Batch{Arrived: at(d * day), Unclaimed: []aquarium.Unclaimed{message("a", d*day)}}
		if _, err := s.Append(b, nil); err != nil {
			t.Fatal(err)
		}
	}
	same(t, "oldest", s.UnclaimedTopics()[0].Oldest, at(day))
	same(t, "kept", s.UnclaimedTopics()[0].Messages, 3)
	big := aquarium.Unclaimed{Topic: "big", Payload: make([]byte, 1<<20), Arrived: at(15 * day)}
	for range 70 {
		if _, err := s.Append(aquarium.Batch{Arrived: at(15 * day), Unclaimed: []aquarium.Unclaimed{big}}, nil); err != nil {
			t.Fatal(err)
		}
	}
	topics := s.UnclaimedTopics()
	same(t, "topics after a flood", len(topics), 1)
	same(t, "messages after a flood", topics[0].Messages, 63) // 64 with their topics are just above 64 MiB
}

func released(t *testing.T, s Store) {
	const gateway = aquarium.GatewayID("gw1")
	years := 61 * 365 * 24 * time.Hour
	aside := func(site aquarium.SiteID, g aquarium.GatewayID, s int) aquarium.Aside {
		r := reading(s, float64(s))
		r.Sensor.Site, r.At = site, r.At.Add(-years)
		return aquarium.Aside{Reading: r, Gateway: g, Arrived: now}
	}
	far := aside(ph.Site, gateway, 3600) // an hour ahead even when released
	if _, err := s.Append(aquarium.Batch{Aside: []aquarium.Aside{
		aside(ph.Site, gateway, 1), aside(ph.Site, "gw2", 2), aside("hotel-sarnbrook", gateway, 3), aside(ph.Site, gateway, 0), far,
	}}, nil); err != nil {
		t.Fatal(err)
	}
	put(t, s, reading(0, 99)) // stands before what is released
	same(t, "asides of the site", len(s.Asides(ph.Site)), 4)
	same(t, "sums", s.SetAside(), []record.SetAside{
		{Site: "hotel-sarnbrook", Gateway: gateway, Records: 1, Claimed: at(3).Add(-years), Arrived: now},
		{Site: ph.Site, Gateway: gateway, Records: 3, Claimed: far.Reading.At, Arrived: now},
		{Site: ph.Site, Gateway: "gw2", Records: 1, Claimed: at(2).Add(-years), Arrived: now},
	})
	o, err := s.ReleaseAside(ph.Site, gateway, years, func(tx ledger.Tx, o aquarium.Outcome) error { return tx.Put("marks", "a", len(o.Fresh)) })
	if err != nil {
		t.Fatal(err)
	}
	want := reading(1, 1)
	want.Retimed = true
	same(t, "outcome", o, aquarium.Outcome{Fresh: []aquarium.Reading{want}, Conflicts: 1})
	same(t, "hook", mark(t, s), 1)
	same(t, "readings", window(t, s, ph, at(0), at(9999)), []aquarium.Reading{reading(0, 99), want})
	same(t, "left", slices.IndexFunc(s.Asides(ph.Site), func(a aquarium.Aside) bool { return a == far }), 0)
	o, err = s.ReleaseAside(ph.Site, gateway, years, nil)
	same(t, "again", o, aquarium.Outcome{})
	same(t, "error", err, nil)
}
