package text

import (
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func TestDigest(t *testing.T) {
	at := aquarium.At(time.Date(2031, 3, 2, 7, 30, 0, 0, time.UTC))
	quiet := Day{To: aquarium.Person{ID: "keeper", Timezone: time.UTC}, At: at, Sites: []aquarium.Site{library()}, URL: "https://watch.example.net"}
	m := Digest(quiet)
	if m.Subject != "Nothing stands - Sunday 2 March 2031" || !strings.Contains(m.Text, "Nothing stands at 1 tank of 1 site") {
		t.Errorf("a quiet day: %q\n%s", m.Subject, m.Text)
	}
	if got, want := DigestText(quiet), "lentic, Sun 2 Mar: nothing stands at 1 tank. https://watch.example.net"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	busy := quiet
	a := longest(library(), "atrium", aquarium.FilterClogging)
	a.ID, a.Since, a.Priority = "17", at.Add(-2*time.Hour), aquarium.Low
	busy.Standing = []aquarium.Alarm{a, a}
	over := a
	over.Returned = at
	busy.Ended = []aquarium.Alarm{over}
	m = Digest(busy)
	for _, want := range []string{"2 alarms stand", "Atrium island, Quillmere Library: Filter a clogs.", "low, since 2 Mar 05:30.", "/alarm/17", "Back to normal", "after 2 h"} {
		if !strings.Contains(m.Text, want) {
			t.Errorf("no %q in\n%s", want, m.Text)
		}
	}
	busy.Sites[0].Name = strings.Repeat("Ω", 300)
	if n, ok := Septets(DigestText(busy)); n > Limit || !ok {
		t.Errorf("%d septets: %q", n, DigestText(busy))
	}
}

func TestOtherTextsFit(t *testing.T) {
	long := strings.Repeat("Ωmega € ", 40)
	s := library()
	s.Name, s.Tanks[0].Name = long, long
	for name, m := range map[string]string{
		"test":  TestText(aquarium.Person{ID: "keeper", Name: long, Timezone: time.UTC}, 0),
		"visit": VisitText(s, "atrium", testLink),
	} {
		if n, ok := Septets(m); n > Limit || !ok {
			t.Errorf("%s: %d septets, in the alphabet %v: %q", name, n, ok, m)
		}
	}
}

// The digest says what a value should be where the alarm's sentence does not.
func TestDigestSaysWhatShouldBe(t *testing.T) {
	for _, c := range []struct {
		name, want string
		alarm      aquarium.Alarm
	}{
		{"told already", ": Heater stays on. 25.9 C, 1.4 over target.\n  high", proof(aquarium.HeaterStuckOn, "heater", aquarium.Evidence{Sensor: "water", Value: 25.9, Unit: "Cel", Expected: of(24.5),
			Facts: []aquarium.Fact{num("target", 24.5, "Cel")}})},
		{"not told", ": Tank loses water. Level -14 mm, -22 mm per h.\n  Should be -2, 12 mm under it.\n", proof(aquarium.WaterLoss, "", aquarium.Evidence{Sensor: "level", Value: -14,
			Unit: "mm", Expected: of(-2.1), PerHour: of(-22)})},
		{"with its day", ": Filter a clogs. Flow 890 l/h, service due 14 Mar.\n  Should be 1090, 18 % under it.\n", func() aquarium.Alarm {
			a := proof(aquarium.FilterClogging, "a", aquarium.Evidence{Sensor: "flow-a", Value: 890, Unit: "l/h", Limit: of(730), Expected: of(1090)})
			a.Projected = aquarium.At(time.Date(2031, 3, 14, 0, 0, 0, 0, time.UTC))
			return a
		}()},
	} {
		d := Day{To: aquarium.Person{Timezone: time.UTC}, Sites: []aquarium.Site{library()}, Standing: []aquarium.Alarm{c.alarm}}
		if got := Digest(d).Text; !strings.Contains(got, c.want) {
			t.Errorf("%s: no %q in\n%s", c.name, c.want, got)
		}
	}
}
