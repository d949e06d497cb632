package daemon

import (
	"context"
	"fmt"
	"io"
)

// refused lists what could not be taken in, as the page does: the last refused
// payloads, the topics nobody has claimed, and the readings set aside.
func refused(_ context.Context, s *services, _ struct{}, out io.Writer) error {
	rs := s.store.Refused(50)
	fmt.Fprintf(out, "Refused, the newest first: %d\n", len(rs))
	for _, r := range rs {
		fmt.Fprintf(out, "  %s  %-8s  %s: %s\n      from %s: %q\n", r.Arrived, r.Reason, r.Topic, r.Detail, r.Source, r.Payload)
	}
	ts := s.store.UnclaimedTopics()
	fmt.Fprintf(out, "\nTopics nobody has claimed: %d\n", len(ts))
	for _, t := range ts {
		fmt.Fprintf(out, "  %s: %d messages since %s, the last %q\n", t.Topic, t.Messages, t.Oldest, t.Last)
	}
	as := s.store.SetAside()
	fmt.Fprintf(out, "\nSet aside for their time: %d\n", len(as))
	for _, a := range as {
		fmt.Fprintf(out, "  %s, gateway %s: %d records; the newest claimed %s and arrived %s\n      lentic release --gateway %s --offset=%s\n",
			a.Site, a.Gateway, a.Records, a.Claimed, a.Arrived, a.Gateway, a.Arrived.Sub(a.Claimed))
	}
	return nil
}
