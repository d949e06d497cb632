package web

import (
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"slices"
	"time"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// alarmsBack is how far back /api/v1/alarms goes when asked for more than what
// stands.
const alarmsBack = 30 * 24 * time.Hour

// alarmAnswer is an alarm as the API and the stream give it.
type alarmAnswer struct {
	ID        aquarium.AlarmID      `json:"id"`
	Site      aquarium.SiteID       `json:"site"`
	Tank      aquarium.TankID       `json:"tank"`
	Cause     aquarium.Cause        `json:"cause"`
	Equipment aquarium.EquipmentKey `json:"equipment"`
	Priority  aquarium.Priority     `json:"priority"`
	State     aquarium.State        `json:"state"`
	Since     string                `json:"since"` // RFC 3339
	Value     float64               `json:"value"`
	Unit      aquarium.Unit         `json:"unit"`
	Text      string                `json:"text"`
	Evidence  evidenceAnswer        `json:"evidence"`
	Projected string                `json:"projected,omitempty"` // the day, at the site
	PageOnly  bool                  `json:"page_only,omitempty"`
}

func (c *scene) answerOf(a aquarium.Alarm) alarmAnswer {
	out := alarmAnswer{a.ID, a.Site, a.Tank, a.Cause, a.Equipment, a.Priority, a.State,
		rfc3339(a.Since), a.Evidence.Value, a.Evidence.Unit, c.sentence(a), evidenceOf(a.Evidence, c.grounds(a)), "", a.PageOnly}
	if a.Projected != 0 {
		out.Projected = a.Projected.In(c.siteOf(a).Timezone).Format(time.DateOnly)
	}
	return out
}

func rfc3339(t aquarium.Instant) string { return t.Time().Format("2006-01-02T15:04:05.999Z07:00") }

// sentence is the alarm in words.
func (c *scene) sentence(a aquarium.Alarm) string { return text.Sentence(a, c.siteOf(a)) }

// grounds are what the alarm rests on, in words.
func (c *scene) grounds(a aquarium.Alarm) text.Grounds { return text.GroundsOf(a, c.siteOf(a)) }

// siteOf is the alarm's site, as far as it is known.
func (c *scene) siteOf(a aquarium.Alarm) aquarium.Site {
	if s := c.site(a.Site); s != nil {
		return *s
	}
	return aquarium.Site{ID: a.Site, Name: string(a.Site), Timezone: time.UTC}
}

// alarms are those of the desk that the visitor may see, worst first.
func (s *Server) alarms(v visitor, standing bool, since aquarium.Instant) []aquarium.Alarm {
	var out []aquarium.Alarm
	for _, a := range s.Desk.Alarms(standing, since) {
		if v.Sees(a.Site) && !(standing && !a.State.Standing()) {
			out = append(out, a)
		}
	}
	slices.SortStableFunc(out, worstFirst)
	return out
}

// urgency orders states: who has not been heard comes first.
var urgency = map[aquarium.State]int{
	aquarium.Unacknowledged: 0, aquarium.Acknowledged: 1, aquarium.ReturnedUnacknowledged: 2,
	aquarium.Shelved: 3, aquarium.StateOutOfService: 4, aquarium.StateSuppressed: 5, aquarium.Normal: 6,
}

func worstFirst(a, b aquarium.Alarm) int {
	asks := func(a aquarium.Alarm) int { // what nobody need look at comes last
		if urgency[a.State] > urgency[aquarium.Acknowledged] {
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(asks(a), asks(b)), cmp.Compare(b.Priority, a.Priority),
		cmp.Compare(urgency[a.State], urgency[b.State]), cmp.Compare(a.Since, b.Since), cmp.Compare(a.ID, b.ID))
}

func (s *Server) apiAlarms(w http.ResponseWriter, r *http.Request, v visitor) error {
	standing := false
	switch q := r.URL.Query().Get("standing"); q {
	case "true":
		standing = true
	case "", "false":
	default:
		return badRequest("standing is %q: want true or false.", cut(q, 40))
	}
	c := s.scene.Load()
	out := []alarmAnswer{}
	for _, a := range s.alarms(v, standing, s.now().Add(-alarmsBack)) {
		out = append(out, c.answerOf(a))
	}
	return writeJSON(w, out)
}

// visible is an alarm the visitor may see.
func (s *Server) visible(v visitor, id string) (aquarium.Alarm, error) {
	a, err := s.Desk.Alarm(aquarium.AlarmID(id))
	if err == nil && !v.Sees(a.Site) {
		err = aquarium.ErrUnknownAlarm
	}
	return a, err
}

func (s *Server) apiAcknowledge(w http.ResponseWriter, r *http.Request, v visitor) error {
	var body struct {
		Note string `json:"note"`
	}
	if err := readJSON(r, &body); err != nil {
		return err
	}
	id := r.PathValue("id")
	if _, err := s.visible(v, id); err != nil {
		return err
	}
	if err := s.acknowledge(aquarium.AlarmID(id), v.by(), body.Note); err != nil {
		return err
	}
	return s.answerAlarm(w, v, id)
}

// acknowledge may be repeated, also after the alarm has become normal by it.
func (s *Server) acknowledge(id aquarium.AlarmID, by aquarium.PersonID, note string) error {
	err := s.Desk.Acknowledge(id, by, cut(note, maxNote))
	if !errors.Is(err, aquarium.ErrNotPossible) {
		return err
	}
	if a, e := s.Desk.Alarm(id); e == nil && a.AcknowledgedAt != 0 &&
		(a.State == aquarium.Acknowledged || a.State == aquarium.Normal) {
		return nil
	}
	return err
}

const (
	maxNote    = 2000 // bytes of a note or reason
	maxShelved = 24 * time.Hour
)

func (s *Server) apiShelve(w http.ResponseWriter, r *http.Request, v visitor) error {
	var body struct {
		Until  json.RawMessage `json:"until"`
		Reason string          `json:"reason"`
	}
	if err := readJSON(r, &body); err != nil {
		return err
	}
	id := r.PathValue("id")
	if _, err := s.visible(v, id); err != nil {
		return err
	}
	raw := string(body.Until)
	if err := json.Unmarshal(body.Until, &raw); err != nil && len(body.Until) == 0 {
		return badRequest("until is missing: want a time within the next 24 h, RFC 3339 or Unix milliseconds.")
	}
	until, err := parseTime("until", raw)
	if err != nil {
		return err
	}
	if err := s.shelve(aquarium.AlarmID(id), until, v.by(), body.Reason); err != nil {
		return err
	}
	return s.answerAlarm(w, v, id)
}

// shelve checks the time here, so that a wrong one is the asker's mistake.
func (s *Server) shelve(id aquarium.AlarmID, until aquarium.Instant, by aquarium.PersonID, reason string) error {
	now := s.now()
	if until <= now || until.Sub(now) > maxShelved {
		return badRequest("until is %s: want a time within the next 24 h.", until)
	}
	return s.Desk.Shelve(id, until, by, cut(reason, maxNote))
}

func (s *Server) answerAlarm(w http.ResponseWriter, v visitor, id string) error {
	a, err := s.visible(v, id)
	if err != nil {
		return err
	}
	return writeJSON(w, s.scene.Load().answerOf(a))
}

// readJSON reads a command's body; none is an empty one.
func readJSON(r *http.Request, v any) error {
	b, err := io.ReadAll(r.Body)
	if err != nil {
		return err
	}
	if len(b) == 0 {
		return nil
	}
	if err := json.Unmarshal(b, v); err != nil {
		return badRequest("The body is not the JSON object that is expected: %s.", err)
	}
	return nil
}
