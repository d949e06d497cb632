package scene

import (
	"io"
	"strings"
	"testing"
	"time"

	"lentic/alert"
	"lentic/alert/detect"
	"lentic/collector/aquarium"
	"lentic/collector/measure"
)

// opened makes a scene whose page opens at t, up to what only New can do.
func opened(t *testing.T, at time.Time) *Scene {
	t.Helper()
	s, err := New(Options{Data: t.TempDir(), Web: "127.0.0.1:8420", MQTT: "127.0.0.1:1883", Show: io.Discard, Speed: 1, Open: at})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Provider.listener.Close() })
	return s
}

// TestConfigurationIsClean: what the demo shows of a configuration is without a
// mistake and without anything worth a second look.
func TestConfigurationIsClean(t *testing.T) {
	s := opened(t, time.Time{})
	for _, w := range s.Config.Warnings {
		if strings.Contains(w.Text, "public_url") {
			continue // the demo gives the texts' links its own address
		}
		if strings.Contains(w.Text, "co2 without hours") {
			continue // its tanks are dosed day and night
		}
		t.Errorf("warning: %s", w)
	}
	if got := len(s.Config.Sites); got != 3 {
		t.Errorf("got %d sites, want 3", got)
	}
}

// TestMisfortunesComeInTime: at whatever time of day, season and second the
// page opens, each of the three is noticed within two minutes of it, and not
// before, by the causes' own unshortened delays.
func TestMisfortunesComeInTime(t *testing.T) {
	opens := []time.Time{
		time.Date(2031, 7, 10, 14, 0, 7, 0, time.UTC),
		time.Date(2031, 7, 11, 22, 59, 41, 0, time.UTC),
		time.Date(2031, 3, 30, 0, 59, 59, 0, time.UTC), // the clocks go forward in London
		time.Now().UTC(),
	}
	for hour := 1; hour < 24; hour += 8 { // a valve's swings are others at each
		opens = append(opens, time.Date(2031, 12, 7, hour, 5*hour/2, 11*hour%60, 0, time.UTC))
	}
	for _, at := range opens {
		t.Run(at.Format("Jan 2 15:04:05"), func(t *testing.T) {
			t.Parallel()
			s := opened(t, at)
			told := raisedAround(s)
			for _, m := range misfortunes {
				id := alarm{m.tank, m.cause}
				if at := told[id]; len(at) != 1 || at[0] <= s.opened || at[0] > s.opened.Add(2*time.Minute) {
					t.Errorf("%v: raised at %v, the page opens at %s: want once, within 2m after it", id, at, s.opened)
				}
				delete(told, id)
			}
			cut := alarm{aquarium.TankKey{Site: "velloway-physio"}, aquarium.PowerLost}
			if at := told[cut]; len(at) != 1 || at[0] >= s.opened {
				t.Errorf("%v: raised at %v, want once, before the page opens at %s", cut, at, s.opened)
			}
			delete(told, cut)
			for id, at := range told {
				t.Errorf("%v raised at %v: nothing else is to go wrong", id, at)
			}
		})
	}
}

// alarm is what was raised where.
type alarm struct {
	tank  aquarium.TankKey
	cause aquarium.Cause
}

// raisedAround judges the scene's own tanks, site by site as the desk does,
// from two hours before the page opens until two minutes and a step after.
func raisedAround(s *Scene) map[alarm][]aquarium.Instant {
	told := map[alarm][]aquarium.Instant{}
	from, to := s.opened.Add(-2*time.Hour), s.opened.Add(2*time.Minute+aquarium.Step)
	for _, site := range s.sites {
		samples := func(yield func(aquarium.Sample) bool) {
			for at := from.Add(-detect.Memory).Ceil(Grid); at <= to; at = s.next(at) {
				for _, x := range site.tanks {
					x.tank.Advance(at)
					for _, r := range x.tank.Readings() {
						v, ok := measure.For(r.Sensor, *x.config.Sensor(r.Sensor.Sensor)).Sample(r)
						if ok && !yield(v) {
							return
						}
					}
				}
			}
		}
		alert.Replay(site.config, samples, nil, from, to, func(x aquarium.Transition) {
			if x.Event == aquarium.Raised {
				id := alarm{aquarium.TankKey{Site: x.Identity.Site, Tank: x.Identity.Tank}, x.Identity.Cause}
				told[id] = append(told[id], x.At)
			}
		})
	}
	return told
}
