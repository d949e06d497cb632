package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"lentic/alert"
	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// operation is one command on the services, the same whether it came over the
// control socket or runs beside a daemon that does not.
type operation func(ctx context.Context, s *services, args []byte, in io.Reader, out io.Writer) error

var operations = map[string]operation{
	"reload":        with(reload),
	"visit-start":   with(visitStart),
	"visit-end":     with(visitEnd),
	"hand-test":     with(handTest),
	"calibrate":     with(calibrate),
	"serviced":      with(serviced),
	"import":        imports,
	"export":        with(export),
	"backup":        with(copyOut),
	"store-check":   with(storeCheck),
	"backtest":      with(backtest),
	"refused":       with(refused),
	"release":       with(release),
	"test-text":     with(testText),
	"user-add":      with(userAdd),
	"user-list":     with(userList),
	"user-remove":   with(userRemove),
	"user-token":    with(userToken),
	"user-password": with(userPassword),
	"user-revoke":   with(userRevoke),
}

// do runs an operation by name.
func (s *services) do(ctx context.Context, name string, args []byte, in io.Reader, out io.Writer) error {
	op, ok := operations[name]
	if !ok {
		return UsageError("no operation is called %q", name)
	}
	return op(ctx, s, args, in, out)
}

// with decodes an operation's arguments.
func with[A any](fn func(ctx context.Context, s *services, a A, out io.Writer) error) operation {
	return func(ctx context.Context, s *services, args []byte, _ io.Reader, out io.Writer) error {
		var a A
		if err := json.Unmarshal(args, &a); err != nil {
			return UsageError("arguments: %v", err)
		}
		return fn(ctx, s, a, out)
	}
}

// tank checks that the tank is configured, and names it.
func (s *services) tank(site aquarium.SiteID, tank aquarium.TankID) (aquarium.TankKey, error) {
	k := aquarium.TankKey{Site: site, Tank: tank}
	st := s.cfg.Load().Site(site)
	if st == nil {
		return k, fmt.Errorf("%w: %q", aquarium.ErrUnknownSite, site)
	}
	if st.Tank(tank) == nil {
		return k, fmt.Errorf("%w: %q", aquarium.ErrUnknownTank, k)
	}
	return k, nil
}

// at is t, or now where it is zero; a time to come is refused.
func (s *services) at(t aquarium.Instant) (aquarium.Instant, error) {
	now := aquarium.At(s.now())
	switch {
	case t == 0:
		return now, nil
	case t > now.Add(time.Minute):
		return 0, UsageError("--at %s is still to come", t)
	}
	return t, nil
}

func reload(_ context.Context, s *services, a ReloadArgs, out io.Writer) error {
	if s.reload == nil {
		return ErrNotRunning
	}
	if err := s.reload(a.File); err != nil {
		return err
	}
	_, err := fmt.Fprintln(out, "The configuration is in force.")
	return err
}

func visitStart(_ context.Context, s *services, a VisitArgs, out io.Writer) error {
	k, err := s.tank(a.Site, a.Tank)
	if err != nil {
		return err
	}
	if a.For < time.Minute || a.For > alert.VisitLimit {
		return UsageError("--for %s: want 1m to %s", a.For, alert.VisitLimit)
	}
	e, err := s.desk.StartVisit(k, a.For, "", a.Note)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Visit at %s until %s. CO2, wet floor and power go on being watched.\n", k, s.local(a.Site, e.Until))
	return err
}

func visitEnd(_ context.Context, s *services, a VisitArgs, out io.Writer) error {
	k, err := s.tank(a.Site, a.Tank)
	if err != nil {
		return err
	}
	if _, err := s.desk.EndVisit(k, "", a.Note); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "The visit at %s is over.\n", k)
	return err
}

func handTest(_ context.Context, s *services, a HandTestArgs, out io.Writer) error {
	k, err := s.tank(a.Site, a.Tank)
	if err != nil {
		return err
	}
	if !(a.KH > 0 && a.KH <= 40) {
		return UsageError("--kh %g: want dKH above 0 and up to 40", a.KH)
	}
	at, err := s.at(a.At)
	if err != nil {
		return err
	}
	if _, err := s.desk.HandTest(k, a.KH, at, "", ""); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "%s: %.1f dKH, from %s on.\n", k, a.KH, s.local(a.Site, at))
	return err
}

func serviced(_ context.Context, s *services, a ServicedArgs, out io.Writer) error {
	k, err := s.tank(a.Site, a.Tank)
	if err != nil {
		return err
	}
	at, err := s.at(a.At)
	if err != nil {
		return err
	}
	if _, err := s.desk.Serviced(k, at, "", a.Note); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "%s: serviced %s.\n", k, s.local(a.Site, at))
	return err
}

// local is t in the site's own time, for people.
func (s *services) local(site aquarium.SiteID, t aquarium.Instant) string {
	var l *time.Location
	if st := s.cfg.Load().Site(site); st != nil {
		l = st.Timezone
	}
	return t.In(l).Format("Mon 2 Jan 2006 15:04 MST")
}

func release(_ context.Context, s *services, a ReleaseArgs, out io.Writer) error {
	sites := []aquarium.SiteID{a.Site}
	if a.Site == "" {
		sites = nil
		for _, st := range s.cfg.Load().Sites {
			sites = append(sites, st.ID)
		}
	}
	released := 0
	for _, id := range sites {
		o, err := s.store.ReleaseAside(id, a.Gateway, a.Offset, func(tx ledger.Tx, o aquarium.Outcome) error {
			return s.desk.Note(tx, o, aquarium.At(s.now()))
		})
		if err != nil {
			return err
		}
		released += len(o.Fresh)
		fresh := s.newSamples(o.Fresh)
		for _, v := range fresh {
			s.past.forget(v.Sensor.TankKey(), v.At)
		}
		s.desk.Take(fresh)
	}
	_, err := fmt.Fprintf(out, "%d readings of gateway %s released, flagged retimed.\n", released, a.Gateway)
	return err
}

func (s *services) newSamples(rs []aquarium.Reading) []aquarium.Sample {
	k := &sink{}
	k.derivers.Store(newDerivers(s.cfg.Load().Sites, s.desk.Electrode))
	return k.samples(rs)
}

func testText(ctx context.Context, s *services, a TestTextArgs, out io.Writer) error {
	receipt, err := s.desk.TestText(ctx, a.To)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Taken by the provider: %s\nIt is proven when %s has read it.\n", receipt, a.To)
	return err
}
