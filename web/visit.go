package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
	"lentic/web/page"
)

// defaultVisit is how long a visit lasts when nobody says.
const defaultVisit = 2 * time.Hour

func (s *Server) visit(w http.ResponseWriter, r *http.Request, v visitor) error {
	site, tank, err := s.scene.Load().findTank(v, r.PathValue("site"), r.PathValue("tank"))
	if err != nil {
		return err
	}
	s.show(w, r, http.StatusOK, s.visitPage(r, v, site, tank))
	return nil
}

func (s *Server) visitPage(r *http.Request, v visitor, site *aquarium.Site, tank *aquarium.Tank) *page.Visit {
	k := aquarium.TankKey{Site: site.ID, Tank: tank.ID}
	p := &page.Visit{Frame: s.said(s.frame(v), r), Site: site, Tank: tank, Visit: s.visiting(k)}
	for _, e := range s.Desk.Journal(k, p.Now.Add(-sheetMost), p.Now+1) {
		p.Journal = append([]aquarium.Entry{e}, p.Journal...)
	}
	p.KH, p.KHAt = s.alkalinity(site, tank)
	return p
}

// formMistake is what was wrong with a form: the page says it beside the form,
// and gives back what was typed.
type formMistake struct{ text string }

func (e *formMistake) Error() string { return e.text }

func mistake(format string, args ...any) error { return &formMistake{fmt.Sprintf(format, args...)} }

func (s *Server) visitDeed(w http.ResponseWriter, r *http.Request, v visitor) error {
	site, tank, err := s.scene.Load().findTank(v, r.PathValue("site"), r.PathValue("tank"))
	if err != nil {
		return err
	}
	if err := r.ParseForm(); err != nil {
		return badRequest("The form could not be read.")
	}
	act := r.PostForm.Get("act")
	err = s.note(aquarium.TankKey{Site: site.ID, Tank: tank.ID}, site.Timezone, act, r.PostForm, v.by())
	var m *formMistake
	if errors.As(err, &m) {
		p := s.visitPage(r, v, site, tank)
		p.Problem, p.Act, p.Typed = m.text, act, map[string]string{}
		for name := range r.PostForm {
			p.Typed[name] = r.PostForm.Get(name)
		}
		s.show(w, r, http.StatusUnprocessableEntity, p)
		return nil
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/visit/"+url.PathEscape(string(site.ID))+"/"+url.PathEscape(string(tank.ID))+"?done="+act, http.StatusSeeOther)
	return nil
}

// note does what one of the forms asks for.
func (s *Server) note(k aquarium.TankKey, zone *time.Location, act string, f url.Values, by aquarium.PersonID) error {
	text := cut(f.Get("note"), maxNote)
	switch act {
	case "start":
		d := defaultVisit
		if v := f.Get("for"); v != "" {
			var err error
			if d, err = time.ParseDuration(v); err != nil || d <= 0 || d > 24*time.Hour {
				return mistake("A visit lasts up to 24 hours: %q is not taken.", cut(v, 20))
			}
		}
		return s.Desk.StartVisit(k, d, by, text)
	case "end":
		err := s.Desk.EndVisit(k, by, text)
		if errors.Is(err, aquarium.ErrNotPossible) {
			return mistake("No visit is under way here.")
		}
		return err
	case "hand-test":
		kh, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(f.Get("kh")), ",", ".", 1), 64)
		if err != nil || !(kh > 0 && kh <= 30) {
			return mistake("The alkalinity is a number of dKH between 0 and 30, as 4.5.")
		}
		at, err := s.when("2006-01-02T15:04", f.Get("at"), zone)
		if err != nil {
			return err
		}
		return s.Desk.HandTest(k, kh, at, by)
	case "serviced":
		at, err := s.when("2006-01-02", f.Get("on"), zone)
		if err != nil {
			return err
		}
		return s.Desk.Serviced(k, at, by, text)
	}
	return badRequest("There is no act %q: want start, end, hand-test or serviced.", cut(act, 40))
}

// when reads a time of a form in the site's zone; empty is now.
func (s *Server) when(layout, v string, zone *time.Location) (aquarium.Instant, error) {
	if v == "" {
		return s.now(), nil
	}
	if zone == nil {
		zone = time.UTC
	}
	t, err := time.ParseInLocation(layout, v, zone)
	switch {
	case err != nil:
		return 0, mistake("%q is not a time: want it as %s.", cut(v, 30), layout)
	case aquarium.At(t) > s.now():
		return 0, mistake("%q lies ahead: want a time that has been.", cut(v, 30))
	case aquarium.At(t) < aquarium.Earliest:
		return 0, mistake("%q is too long ago.", cut(v, 30))
	}
	return aquarium.At(t), nil
}
