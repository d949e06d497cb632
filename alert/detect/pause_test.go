package detect

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestUsualPause: feeding that is not announced is not told, the first time nor
// after that, at about the same time of day; another pause is, as somebody's who may be
// there; filters that do not start again are told five minutes after they should have.
func TestUsualPause(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	stop := func(at, length int) string {
		return fmt.Sprintf("%dm:900 %dm1s:0 %dm:0 %dm1s:900 ", at, at, at+length, at+length)
	}
	feed := func(lasts int) string { // 12:30 give or take, five days; the last for so long
		return "0m:900 " + stop(750, 10) + stop(1440+765, 12) + stop(2*1440+735, 9) + stop(3*1440+752, 10) + stop(4*1440+745, lasts) + stop(4*1440+1200, 10)
	}
	s := script{every: time.Minute, noise: 1, lasts: 5 * day}
	for _, c := range []struct {
		name   string
		lasts  int
		raised []time.Duration
	}{
		{"as usual", 10, []time.Duration{4*day + 1200*m}},
		{"not started again", 40, []time.Duration{4*day + 745*m + 15*m, 4*day + 1200*m}},
	} {
		s.paths = calm()
		s.paths["flow-a"], s.paths["flow-b"] = feed(c.lasts), feed(c.lasts)
		var at []time.Duration
		for _, x := range s.run(t, site) {
			if x.Event == aquarium.Raised && (x.Identity.Equipment == "a" || x.Identity.Cause == aquarium.VisitUndeclared) {
				at = append(at, x.At.Sub(zero))
			}
		}
		ok := len(at) == len(c.raised)
		for i := range at {
			ok = ok && at[i] > c.raised[i] && at[i] <= c.raised[i]+3*m+10*time.Second
		}
		if !ok {
			t.Errorf("%s: raised at %v, want some minutes after %v", c.name, at, c.raised)
		}
	}
}

// TestCutAtUsualPause: a filter that stays off after a power cut is told within five minutes
// of mains, also where the cut lies where feeding usually does, if the other turns again;
// where neither does yet they may be at rest as usual.
func TestCutAtUsualPause(t *testing.T) {
	for _, c := range []struct {
		name      string
		other     string
		after, by time.Duration
	}{
		{"the other turns again", "0m:880 750m:880 750m1s:0 753m:0 753m1s:880", 755 * m, 758 * m},
		{"neither does", "0m:880 750m:880 750m1s:0", 760 * m, 766 * m},
	} {
		site := library()
		site.Tanks[0].Equipment.Filters[1].Stops = nil
		s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 13 * h}
		s.paths["mains"], s.paths["flow-a"], s.paths["flow-b"] = "0m:1 750m:0 753m:1", "0m:900 750m:900 750m1s:0", c.other
		usual := &Learned{Tank: "atrium", Through: zero, Since: zero.Add(-20 * day)}
		for i := range 4 {
			from := zero.Add(751*m - time.Duration(i+1)*day)
			usual.Pauses = append([]Pause{{from, from.Add(10 * m)}}, usual.Pauses...)
		}
		w := New(site)
		w.Recall(usual)
		var told time.Duration
		ts := s.play(w, s.samples(t, site), 0, s.lasts)
		for _, x := range ts {
			if x.Event == aquarium.Raised && x.Identity.Equipment == "a" && told == 0 {
				told = x.At.Sub(zero)
			}
		}
		if told <= c.after || told > c.by {
			t.Errorf("%s: told at %v, want after %v and by %v:%s", c.name, told, c.after, c.by, brief(ts))
		}
	}
}

// TestFirstPauses: of a tank's first pause waves are a part, and one that went before and was
// short says little of how long it takes.
func TestFirstPauses(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: 3 * day}
	flow := "0m:900 "
	for i, lasts := range []int{8, 7, 13} {
		at := i*1440 + 750
		flow += fmt.Sprintf("%dm:900 %dm1s:0 %dm:0 %dm1s:900 ", at, at, at+lasts, at+lasts)
	}
	s.paths["flow-a"], s.paths["flow-b"] = flow, flow
	s.paths["level"] = "0m:0 752m50s:0 " + choppy(753*m, 754*m) + "754m10s:0"
	for _, x := range s.run(t, site) {
		if x.Event == aquarium.Raised {
			t.Errorf("raised %s after %v, want nothing", x.Identity.Cause, x.At.Sub(zero))
		}
	}
}

// TestFedAtAnyHour: whoever feeds between ten and two is known by it after some days, and for
// two weeks, and how long that takes by all that he does then; in the evening, and of a tank that is fed at noon, a stop is told as soon as ever, and so are
// filters that do not start again.
func TestFedAtAnyHour(t *testing.T) {
	any := []int{605, 790, 725, 670, 815, 640, 740}
	noon := []int{750, 741, 757, 745, 760, 739, 752}
	early := []int{750, 610, 625, 805, 605, 640, 620, 650, 615, 630, 645, 605, 625}
	for _, c := range []struct {
		name  string
		fed   []int // min, day by day
		first int   // min that the first takes
		stops int   // on the last day, and stays off
		told  int   // min after that, by then
	}{
		{"at an hour between those of the days before", any, 10, 700, 16},
		{"in the evening", any, 10, 1200, 3},
		{"an hour and a half after noon", noon, 10, 840, 3},
		{"as late as in the week before last", early, 13, 810, 18},
		{"two hours from the first three", []int{785, 755, 800}, 10, 640, 16},
		{"in the evening of those days", []int{785, 755, 800}, 10, 1200, 3},
	} {
		site, flow := library(), "0m:900 "
		site.Tanks[0].Equipment.Filters = site.Tanks[0].Equipment.Filters[:1]
		for i, at := range c.fed {
			lasts := 10
			if i == 0 {
				lasts = c.first
			}
			at += i * 1440
			flow += fmt.Sprintf("%dm:900 %dm1s:0 %dm:0 %dm1s:900 ", at, at, at+lasts, at+lasts)
		}
		off := time.Duration(len(c.fed)*1440+c.stops) * time.Minute
		s := script{paths: calm(), every: time.Minute, noise: 1, lasts: off + time.Hour}
		s.paths["flow-a"] = flow + fmt.Sprintf("%v:900 %v:0", off, off+time.Second)
		var told []time.Duration
		for _, x := range s.run(t, site) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.FilterStalled && x.At > zero.Add(off-day) {
				told = append(told, x.At.Sub(zero.Add(off)))
			}
		}
		if least := time.Duration(c.told-3) * time.Minute; len(told) != 1 || told[0] < least || told[0] > time.Duration(c.told)*time.Minute+10*time.Second {
			t.Errorf("%s: told %v after the filter stopped, want once, from %v to %d min", c.name, told, least, c.told)
		}
	}
}

// TestPauseThatIsOver: a filter whose newest reading says that it turns again does not
// stand still, though that reading is not judged before the next.
func TestPauseThatIsOver(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 5*day - 10*h}
	flow := "0m:900 "
	for i, lasts := range []int{10, 9, 10, 10, 12} {
		at := i*1440 + 750
		flow += fmt.Sprintf("%dm:900 %dm1s:0 %dm:0 %dm1s:900 ", at, at, at+lasts, at+lasts)
	}
	s.paths["flow-a"], s.paths["flow-b"] = flow, flow
	check(t, s.run(t, site), nil)
}

// TestPauseInGap: readings that are missing when a pause ends make it no longer, and a
// stop that is configured is waited for no longer than that, whatever is usual.
func TestPauseInGap(t *testing.T) {
	for _, c := range []struct {
		name  string
		noon  string // the days before
		stops []aquarium.Stop
		told  time.Duration // after 12:30, by then
	}{
		{"a gap of four minutes", "%dm:900 %[2]dm1s:0 %[3]dm:- %[4]dm:900 ", nil, 15 * m},
		{"longer than is configured", "%dm:900 %[2]dm1s:0 %[4]dm:0 %[4]dm1s:900 ", []aquarium.Stop{{At: 12*60 + 30, For: 10 * m}}, 15 * m},
	} {
		site := library()
		path := "0m:900 "
		for _, at := range []int{750, 1440 + 750} {
			path += fmt.Sprintf(c.noon, at, at, at+9, at+14)
		}
		path += "3630m:900 3630m1s:0" // 12:30 of the third day
		for i := range site.Tanks[0].Equipment.Filters {
			site.Tanks[0].Equipment.Filters[i].Stops = c.stops
		}
		s := script{every: time.Minute, noise: 1, lasts: 3*day - 10*h, paths: calm()}
		s.paths["flow-a"], s.paths["flow-b"] = path, path
		var at []time.Duration
		for _, x := range s.run(t, site) {
			if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.FilterStalled && x.At > zero.Add(2*day) {
				at = append(at, x.At.Sub(zero.Add(2*day+12*h+30*m)))
			}
		}
		if len(at) != 1 || at[0] <= 10*m || at[0] > c.told+10*time.Second {
			t.Errorf("%s: told %v after the stop began, want by %v", c.name, at, c.told)
		}
	}
}

// TestPauseToldOnChange: a flow that tells its changes only, a last digit every
// minute, says nothing while the filter is off for feeding, and that is no gap;
// nor is it a spike when the filter stands still for good, within three minutes.
func TestPauseToldOnChange(t *testing.T) {
	site := library()
	tank := &site.Tanks[0]
	tank.Equipment.Filters = tank.Equipment.Filters[:1]
	flow := tank.Sensor("flow-a")
	flow.OnChange, flow.Refresh = true, 15*time.Minute
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 3*day + 12*h + 20*m}
	delete(s.paths, "flow-a")
	xs := s.samples(t, site)
	const stall = 3*24*60 + 12*60
	for i := range stall + 1 {
		at := zero.Add(time.Duration(i)*m + 3*time.Second)
		v := 900 + float64(i%4)*10
		switch noon := i%1440 - 1140; {
		case noon == 0 || i == stall:
			v = 0
		case noon > 0 && noon < 8:
			continue
		}
		xs = append(xs, aquarium.Sample{Sensor: aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: "flow-a"}, At: at, Value: v})
	}
	slices.SortStableFunc(xs, func(a, b aquarium.Sample) int { return cmp.Compare(a.At, b.At) })
	check(t, s.play(New(site), xs, 0, s.lasts), []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: stall * m, by: stall*m + 3*m + 10*time.Second}})
}

// TestPauseDiesAway: of two filters that are read once a minute one is read while its flow
// dies away: that they pause is known by the newest of both.
func TestPauseDiesAway(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 4 * day}
	for filter, dying := range map[string]int{"flow-a": 90, "flow-b": 190} {
		flow := "0m:900 "
		for d := range 4 {
			at := d*1440 + 750
			if d == 3 {
				flow += fmt.Sprintf("%dm:900 %dm:%d %dm:0 ", at, at+1, dying, at+2)
			} else {
				flow += fmt.Sprintf("%dm:900 %dm1s:0 ", at, at)
			}
			flow += fmt.Sprintf("%dm:0 %dm1s:900 ", at+10, at+10)
		}
		s.paths[filter] = flow
	}
	for _, x := range s.run(t, site) {
		if x.Event == aquarium.Raised {
			t.Errorf("raised %s after %v, want nothing", x.Identity.Cause, x.At.Sub(zero))
		}
	}
}

// TestPauseBesideAStall: one filter is broken and the other pauses as it always has.
func TestPauseBesideAStall(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	s := script{paths: calm(), every: time.Minute, noise: 1, lasts: 4*day + 18*h}
	noons := ""
	for d := range 5 {
		noons += fmt.Sprintf("%[1]dm:880 %[1]dm1s:0 %[2]dm:0 %[2]dm1s:880 ", d*1440+750, d*1440+761)
	}
	s.paths["flow-b"] = "0m:880 " + noons
	s.paths["flow-a"] = "0m:880 " + noons[:strings.Index(noons, "3630m")] + "3300m:880 3300m1s:0" // for good on the third morning
	check(t, s.run(t, site), []want{{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 3300 * m, by: 3303*m + 10*time.Second}})
}

// TestFedTwiceOnItsFirstDay: a tank that lentic has known for a day may be fed in the
// morning and in the afternoon.
func TestFedTwiceOnItsFirstDay(t *testing.T) {
	site := library()
	site.Tanks[0].Equipment.Filters[1].Stops = nil
	p := "0m:900 480m:900 480m1s:0 492m:0 492m1s:900 996m:900 996m1s:0 1008m:0 1008m1s:900"
	s := script{paths: calm(), every: 10 * time.Second, noise: 1, lasts: day}
	s.paths["flow-a"], s.paths["flow-b"] = p, p
	check(t, s.run(t, site), nil)
}

// TestPauseReadSeldom: filters that stay off after feeding are told by five minutes after
// they should have started, and not as soon as they should, wherever readings fall.
func TestPauseReadSeldom(t *testing.T) {
	site := library()
	for i := range site.Tanks[0].Equipment.Filters {
		site.Tanks[0].Equipment.Filters[i].Stops = nil
	}
	const lasts = 10*m + 20*time.Second // which a reading a minute takes for ten minutes or for eleven
	for _, every := range []time.Duration{10 * time.Second, 30 * time.Second, m} {
		for _, phase := range []time.Duration{0, 7 * time.Second, 23 * time.Second, 37 * time.Second, 59 * time.Second} {
			s := script{every: every, phase: phase % every, noise: 1, lasts: 3*day - 10*h, paths: calm()}
			path := "0m:900 "
			for d, off := range []int{5, 31} { // s
				at := (time.Duration(d)*day + 12*h + 30*m + time.Duration(off)*time.Second)
				path += fmt.Sprintf("%s:900 %s:0 %s:0 %s:900 ", at, at+1, at+lasts, at+lasts+1)
			}
			stops := 60*h + 30*m + (phase+time.Second)%every // just after a reading
			path += fmt.Sprintf("%s:900 %s:0", stops-1, stops)
			s.paths["flow-a"], s.paths["flow-b"] = path, path
			var told []time.Duration
			for _, x := range s.run(t, site) {
				if x.Event == aquarium.Raised && x.Identity.Cause == aquarium.FilterStalled && x.At > zero.Add(2*day) {
					told = append(told, x.At.Sub(zero.Add(stops+lasts)))
				}
			}
			if len(told) != 1 || told[0] < m || told[0] > 5*m {
				t.Errorf("every %v at %v: told %v after the pause should have ended, want within five minutes", every, phase, told)
			}
		}
	}
}
