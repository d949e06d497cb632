package proof

import (
	"errors"
	"fmt"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

const (
	oddSite    = aquarium.SiteID("quillmere-library")
	oddGateway = aquarium.GatewayID("gw1")
	// wrongClock is how far off a gateway's clock is.
	wrongClock = 61 * 365 * 24 * time.Hour
)

// undone appends a batch that its hook undoes, in both, and mostly tries it
// again, as who was refused does.
func (x *subject) undone() {
	b := x.batch()
	x.odd(&b)
	if x.rnd.IntN(2) == 0 { // each sensor once, and one that may be new behind one that is not
		b.Readings = b.Readings[:min(2, len(b.Readings))]
		b.Readings[len(b.Readings)-1].Sensor = x.newcomer()
	}
	hook := func(tx ledger.Tx, o aquarium.Outcome) error {
		return errors.Join(tx.Put("marks", "undone", len(o.Fresh)), tx.Delete("marks", "fresh"), errUndo)
	}
	_, got := x.s.Append(b, hook)
	_, want := x.m.Append(b, hook)
	x.same("undone", []bool{errors.Is(got, errUndo), errors.Is(want, errUndo)}, []bool{true, true})
	if x.rnd.IntN(3) > 0 {
		x.append(b)
	}
}

// odd adds what is no reading.
func (x *subject) odd(b *aquarium.Batch) {
	for range x.rnd.IntN(4) {
		n := x.rnd.IntN(1000)
		switch x.rnd.IntN(3) {
		case 0:
			b.Refused = append(b.Refused, aquarium.Refusal{Topic: "lentic/x", Reason: aquarium.ReasonSyntax, Detail: fmt.Sprint(n), Payload: []byte("six"), Arrived: x.now, Source: fmt.Sprint(n % 3)})
		case 1:
			b.Unclaimed = append(b.Unclaimed, aquarium.Unclaimed{Topic: fmt.Sprintf("lentic/quillmere-library/atrium/n%d", n%3), Payload: fmt.Append(nil, n), Arrived: x.now})
		default:
			r := aquarium.Reading{Sensor: sensors[n%2], At: x.now.Add(-wrongClock - time.Duration(n)*time.Second), Value: float64(n), Unit: "pH"}
			b.Aside = append(b.Aside, aquarium.Aside{Reading: r, Gateway: oddGateway, Arrived: x.now})
		}
	}
}

// shelves compares what is kept beside the readings, after taking some of it.
func (x *subject) shelves() {
	switch x.rnd.IntN(4) {
	case 0:
		topics := []string{fmt.Sprintf("lentic/quillmere-library/atrium/n%d", x.rnd.IntN(3))}
		var got, want []aquarium.Unclaimed
		n, err := x.s.TakeUnclaimed(topics, func(us []aquarium.Unclaimed) error { got = append(got, us...); return nil })
		if err != nil {
			x.t.Fatal(err)
		}
		m, _ := x.m.TakeUnclaimed(topics, func(us []aquarium.Unclaimed) error { want = append(want, us...); return nil })
		x.same("taken", []any{n, got}, []any{m, want})
	case 1:
		x.same("released", first(x.s.ReleaseAside(oddSite, oddGateway, wrongClock, nil)), first(x.m.ReleaseAside(oddSite, oddGateway, wrongClock, nil)))
	}
	x.same("asides", x.s.Asides(oddSite), x.m.Asides(oddSite))
	x.same("set aside", x.s.SetAside(), x.m.SetAside())
	x.same("unclaimed", x.s.UnclaimedTopics(), x.m.UnclaimedTopics())
	x.same("refused", x.s.Refused(1<<20), x.m.Refused(1<<20))
}
