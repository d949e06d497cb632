package screen

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestElectrical: a pH that steps with a load is marked while the load is on once
// that has been seen a few times, and not where water does the work.
func TestElectrical(t *testing.T) {
	const start, end = 24.0, 72.0 // h
	turns := func(load aquarium.SensorID, at time.Duration) bool {
		switch h := at.Hours(); load {
		case "lamp":
			h = math.Mod(h, 24)
			return h >= 10 && h < 18
		case "valve":
			return math.Mod(h, 0.5) < 0.2
		default:
			return math.Mod(h, 2) < 0.7
		}
	}
	for _, tt := range []struct {
		name  string
		load  aquarium.SensorID
		every time.Duration
		steps float64 // with the load, at once
		mends float64 // h; 0: never
		from  float64 // h from which it must be known
		to    float64
		share float64 // of the readings with the load on that must be marked
	}{
		{name: "a pump", load: "pump", every: 10 * time.Second, steps: 0.12, from: start + 7, to: end, share: 0.98},
		{name: "a pump by the minute", load: "pump", every: time.Minute, steps: -0.12, from: start + 7, to: end, share: 0.94},
		{name: "a pump, by a lot", load: "pump", every: 10 * time.Second, steps: 0.6, from: start + 7, to: end, share: 0.98},
		{name: "the lamp, on and off once a day", load: "lamp", every: 10 * time.Second, steps: 0.2, from: start + 72, to: 168, share: 0.99},
		{name: "mended", load: "pump", every: 10 * time.Second, steps: 0.2, mends: 48, from: 60, to: end},
		{name: "less than a calibration", load: "pump", every: 10 * time.Second, steps: 0.02, from: 0, to: end},
		{name: "a valve that does its work", load: "valve", every: 10 * time.Second, from: 0, to: end},
		{name: "a valve that does its work, by the minute", load: "valve", every: time.Minute, from: 0, to: end},
		{name: "a valve with a leaking coil", load: "valve", every: 10 * time.Second, steps: 0.15, from: start + 7, to: end, share: 0.97},
		{name: "a valve by the minute: it may be the gas", load: "valve", every: time.Minute, steps: -0.15, from: 0, to: end},
		{name: "a machine at a quarter of an hour: it cannot be told", load: "pump", every: 15 * time.Minute, steps: 0.2, from: 0, to: end},
		{name: "the mains are no load", load: "mains", every: 10 * time.Second, steps: 0.2, from: 0, to: end},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH, tt.load: aquarium.Switch})
			level, last := 6.8, time.Duration(0)
			got := play(tank, tt.every, hours(tt.to), looks, func(id aquarium.SensorID, at time.Duration) float64 {
				on := turns(tt.load, at)
				if id == tt.load {
					if on {
						return 1
					}
					return 0
				}
				if tt.load == "valve" { // 0.8 an hour down, 0.4 up, as much as a strong diffuser does
					d := (at - last).Hours()
					last = at
					if on {
						level -= 0.6 * d
					} else {
						level += 0.4 * d
					}
				}
				if on && at >= hours(start) && (tt.mends == 0 || at < hours(tt.mends)) {
					return level + tt.steps
				}
				return level
			})
			on, marked, off := 0, 0, 0
			for _, v := range got["ph"] {
				at := v.At.Sub(monday)
				if at < hours(tt.from) || at >= hours(tt.to) {
					continue
				}
				switch is := v.Quality == aquarium.Electrical; {
				case turns(tt.load, at):
					on++
					if is {
						marked++
					}
				case is:
					off++
				}
			}
			if on == 0 {
				t.Fatal("the load is never on")
			}
			if share := float64(marked) / float64(on); share < tt.share || tt.share == 0 && marked > 0 {
				t.Errorf("%.3f of %d readings with the load on are marked, want %v", share, on, tt.share)
			}
			if lag := 1 + int(hours(tt.to-tt.from)/hours(2)); off > 2*lag { // a switch's reading may come after the turn
				t.Errorf("%d readings with the load off are marked", off)
			}
		})
	}
}

// TestSwitchAtItsOwnPace: a switch may report less often than the electrode, or
// only when it turns.
func TestSwitchAtItsOwnPace(t *testing.T) {
	for _, tt := range []struct {
		name     string
		ph, pump time.Duration // intervals; a pump of 0 reports on change
	}{
		{"more often", time.Minute, 10 * time.Second},
		{"less often", 10 * time.Second, time.Minute},
		{"much less often than a quick electrode", time.Second, time.Minute},
		{"on change", 10 * time.Second, 0},
		{"on change, by the minute", time.Minute, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH, "pump": aquarium.Switch})
			tank.Sensors[1].OnChange = tt.pump == 0
			s, r := New("quillmere-library", tank), rand.New(rand.NewPCG(3, 3))
			was, on, marked := -1.0, 0, 0
			for second := range 36 * 3600 {
				at := time.Duration(second) * time.Second
				now := float64((second + 17) / 1543 % 2)
				if tt.pump == 0 && now != was || tt.pump > 0 && at%tt.pump == 0 {
					s.Take(aquarium.Sample{Sensor: s.keys[1], At: monday.Add(at), Value: now}, func(aquarium.Sample) {})
				}
				was = now
				if at%tt.ph == 0 {
					v := math.Round((6.8+0.15*now+0.005*r.NormFloat64())*100) / 100
					s.Take(aquarium.Sample{Sensor: s.keys[0], At: monday.Add(at), Value: v}, func(v aquarium.Sample) {
						if at > hours(30) && now == 1 {
							if on++; v.Quality == aquarium.Electrical {
								marked++
							}
						}
					})
				}
			}
			if float64(marked) < 0.9*float64(on) || on == 0 {
				t.Errorf("%d of %d readings with the pump on are marked", marked, on)
			}
		})
	}
}

// TestTogether: of two loads that always turn together what they add is not
// counted twice.
func TestTogether(t *testing.T) {
	tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH, "pump": aquarium.Switch, "lamp": aquarium.Switch})
	s := New("quillmere-library", tank)
	for n := range 8750 { // ends with both on
		on := float64(n / 200 % 2)
		for i, v := range []float64{6.8 + 0.2*on + 0.01*float64(n*n%3), on, on} {
			s.Take(aquarium.Sample{Sensor: s.keys[i], At: monday.Add(time.Duration(n)*10*time.Second + time.Duration(i)), Value: v}, func(aquarium.Sample) {})
		}
	}
	end := monday.Add(87500 * time.Second)
	if _, on := s.added(s.Index("ph"), end.Add(time.Hour)); on {
		t.Error("an hour after the switches fell silent they are on")
	}
	if by, on := s.added(s.Index("ph"), end); !on || math.Abs(by-0.2) > 0.02 {
		t.Errorf("they add %v, %v; want 0.2", by, on)
	}
}
