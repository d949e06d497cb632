package page

import (
	"time"

	"lentic/collector/aquarium"
)

func (s stage) alarm(change func(*AlarmPage)) *AlarmPage {
	at, t := s.site("atrium")
	from := s.now.Add(-5 * time.Hour)
	all := s.series(t, from, s.now, time.Minute, true)
	ph, _ := find(all, "ph")
	valve, _ := find(all, "valve")
	p := &AlarmPage{Frame: s.frame(), Alarm: s.crash()[0], Site: at, Tank: t, From: from, To: s.now, Evidence: []Series{ph, valve},
		First: "Shut the valve on the CO2 cylinder by hand.", Then: []string{"Lift the filter outlet so that the surface breaks.", "Look for fish at the surface, and say so."},
		Cautions: []string{"CO2 is heavier than air and collects low: air a closed cupboard or room before you go in.", "Change nothing quickly: shut off, aerate, then correct slowly."}}
	p.GroundsAt = p.Raised
	p.Grounds = []string{"pH 5.98, should be 6.60, 0.62 under it, limit 6.40.", "Falling 0.31 an hour.", "Harm in about 40 min if it goes on, by about 01:56.",
		"CO2 about 42 mg/l, reckoned from KH 4.0 dKH.", "The valve was told to open."}
	p.Excluded = []string{"Not the controller's own swing: that keeps to its band, and pH is 0.62 under its target.", "Not a probe that lies: it still moves, by 0.03.", "Not a power cut: mains is on."}
	p.Told = []Told{{Name: "Keeper", By: "texts", At: s.now.Add(-69 * time.Minute)}, {Name: "Deputy", By: "texts", Due: s.now.Add(time.Minute)}, {Name: "Desk", By: "mail", Lost: "the server refused it"}}
	change(p)
	return p
}

func (s stage) alarms() []Story {
	return []Story{
		{"alarm-standing", s.alarm(func(*AlarmPage) {})},
		{"alarm-texted", s.alarm(func(p *AlarmPage) { p.Token = "k3Jd81Qm"; p.Person = "" })},
		{"alarm-acknowledged", s.alarm(func(p *AlarmPage) {
			p.State, p.AcknowledgedAt, p.By, p.Said = aquarium.Acknowledged, s.now.Add(-time.Minute), "Keeper", "Acknowledged at 02:25."
		})},
		{"alarm-over", s.alarm(func(p *AlarmPage) {
			p.State, p.Active, p.Returned = aquarium.ReturnedUnacknowledged, false, s.now.Add(-time.Minute)
		})},
		{"alarm-known", s.alarm(func(p *AlarmPage) { p.Alarm.Evidence.LastKnown, p.Heard = true, s.now.Add(-time.Hour) })},
		{"alarm-young", s.alarm(func(p *AlarmPage) {
			flow, _ := find(s.series(p.Tank, p.From, s.now, time.Minute, false), "flow-a")
			for i := range flow.T {
				flow.Min[i], flow.Mean[i], flow.Max[i] = flow.Min[i]-150, flow.Mean[i]-150, flow.Max[i]-150
			}
			p.Alarm, p.Evidence, p.Told, p.Cautions = s.clogging(), []Series{flow}, nil, nil
			p.First, p.Then, p.GroundsAt = "Plan its cleaning before the flow is a third less.", nil, p.Raised
			p.Grounds = []string{"Flow 890 l/h, should be 1090, 18 % under it.", "Falling 40 l/h a week.", "Cleaning due about 15 March 2031, when 730 l/h are left.",
				"Cleaned 28 days ago."}
			p.Excluded = []string{"Not the usual pause: 82 % of the flow still comes."}
		})},
		{"alarm-own", &AlarmPage{Frame: s.frame(), Alarm: Alarm{Alarm: aquarium.Alarm{ID: "a9", Identity: aquarium.Identity{Cause: aquarium.DiskLow}, Priority: aquarium.High,
			State: aquarium.Unacknowledged, Active: true, Since: s.now.Add(-time.Hour)}, Text: "The disk is nearly full.", Zone: s.zone}, First: "Make room on the disk."}},
	}
}

func (s stage) sheets() []Story {
	at, t := s.site("atrium")
	from := s.now.Add(-9 * 24 * time.Hour)
	sheet := Sheet{Site: at, Tank: t, Last: from, From: from, Sensors: s.series(t, from, s.now, time.Hour, false), Latest: s.tank("atrium", nil).Latest, Alarms: s.crash(), Journal: s.journal(), KH: 4}
	at2, t2 := s.site("lobby")
	return []Story{
		{"before-empty", &Before{Frame: s.frame(), All: true}},
		{"before-all", &Before{Frame: s.frame(), All: true, Sheets: []Sheet{sheet, {Site: at2, Tank: t2, From: s.now.Add(-14 * 24 * time.Hour)}}}},
		{"before-choose", &Before{Frame: s.frame(), All: true, Offers: []Offer{{Site: at, Tank: t, Alarms: s.crash()}, {Site: at2, Tank: t2, Last: from}}}},
		{"before-tank", &Before{Frame: s.frame(), Sheets: []Sheet{sheet}}},
	}
}

func (s stage) lists() []Story {
	at, t := s.site("atrium")
	text := "Atrium island, Quillmere Library: too much CO2. pH 5.98, 0.62 under target, -0.31 per h. Shut the cylinder valve. https://watch.example.net/a/k3Jd81Qm"
	visit := aquarium.Entry{Kind: aquarium.Visit, At: s.now.Add(-time.Hour), Until: s.now.Add(time.Hour)}
	return []Story{
		{"intake-empty", &Intake{Frame: s.frame()}},
		{"intake-refused", &Intake{Frame: s.frame(), Heard: s.now,
			Refused:   []aquarium.Refusal{{Topic: "lentic/quillmere-library/atrium/ph", Reason: aquarium.ReasonUnit, Detail: `unit "gal" for ph: want pH or mV`, Payload: []byte("[{\"u\":\"gal\",\x00\"v\":1}]"), Arrived: s.now.Add(-time.Minute), Source: "gw1"}},
			Unclaimed: []UnclaimedTopic{{Topic: "lentic/quillmere-library/atrium/orp", Messages: 40, First: s.now.Add(-time.Hour), Last: s.now.Add(-time.Minute), Payload: []byte("231")}},
			Aside:     []AsideGroup{{Site: "Quillmere Library", Gateway: "gw1", Records: 12, Claimed: s.now.Add(24 * time.Hour), Arrived: s.now, Off: 24 * time.Hour}}}},
		{"texts-empty", &Texts{Frame: s.frame()}},
		{"texts-some", &Texts{Frame: s.frame(), Messages: []Message{
			{To: "Keeper", By: "texts", Text: text, Written: s.now.Add(-time.Minute), Due: s.now.Add(time.Minute), Tries: 1, Answer: "503", Alarm: "a1", Septets: 153},
			{To: "Keeper", By: "texts", Text: text, Written: s.now.Add(-time.Hour), Sent: s.now.Add(-time.Hour + 2*time.Second), Tries: 1, Answer: "queued", Alarm: "a1", Septets: 153},
			{To: "Deputy", By: "mail", Subject: "The day at your tanks", Text: "Nothing stands.", Written: s.now.Add(-20 * time.Hour), Tries: 9, Answer: "refused", Lost: true}}}},
		{"visit-none", &Visit{Frame: s.frame(), Site: at, Tank: t, KH: 4}},
		{"visit-under-way", &Visit{Frame: s.frame(), Site: at, Tank: t, Visit: &visit, Journal: s.journal(), KH: 4.5, KHAt: s.now}},
		{"visit-wrong", &Visit{Frame: s.frame(), Site: at, Tank: t, Act: "hand-test", Problem: "KH “four”: want a number, as 4.5.", Typed: map[string]string{"kh": "four"}}},
		{"login", &Login{Frame: Frame{Now: s.now, Zone: s.zone}, Next: "/"}},
		{"login-refused", &Login{Frame: Frame{Now: s.now, Zone: s.zone}, Problem: "That name and password do not belong together.", Name: "keeper", Next: "/"}},
		{"problem", &Problem{Frame: s.frame(), Status: 404, Sentence: "There is no tank of that name at Quillmere Library.", Next: "Perhaps it was renamed in the configuration.", Link: "/", LinkText: "To the rounds"}},
	}
}
