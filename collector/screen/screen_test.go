package screen

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

var monday = aquarium.At(time.Date(2031, 3, 3, 0, 0, 0, 0, time.UTC))

// tankOf has a sensor of each quantity given, and the room's thermometer where
// one is called "room".
func tankOf(sensors map[aquarium.SensorID]aquarium.Quantity) aquarium.Tank {
	t := aquarium.Tank{ID: "atrium"}
	for _, id := range []aquarium.SensorID{"ph", "water", "water-2", "room", "salts", "level", "flow", "waste", "pump", "lamp", "valve", "mains"} {
		if q, ok := sensors[id]; ok {
			t.Sensors = append(t.Sensors, aquarium.Sensor{ID: id, Quantity: q})
		}
	}
	if _, ok := sensors["room"]; ok {
		t.Equipment.Room = &aquarium.Room{Temperature: "room"}
	}
	if _, ok := sensors["valve"]; ok {
		t.Equipment.CO2 = &aquarium.CO2{PH: "ph", Valve: "valve"}
	}
	if _, ok := sensors["mains"]; ok {
		t.Equipment.Power = &aquarium.PowerSupply{Mains: "mains"}
	}
	return t
}

// look is the noise and the resolution of a sensor, in its first unit.
type look struct{ noise, grain float64 }

var looks = map[aquarium.Quantity]look{
	aquarium.PH: {0.005, 0.01}, aquarium.Temperature: {0.02, 0.01}, aquarium.Conductivity: {1, 1},
	aquarium.Level: {0.3, 0.1}, aquarium.Flow: {8, 1}, aquarium.Switch: {0, 1},
}

// play shows a screen what the sensors of a tank read, every so often, for so
// long; true is what each would read without noise.
func play(tank aquarium.Tank, every, lasts time.Duration, looks map[aquarium.Quantity]look, truly func(id aquarium.SensorID, at time.Duration) float64) map[aquarium.SensorID][]aquarium.Sample {
	s := New("quillmere-library", tank)
	r := rand.New(rand.NewPCG(1, 2))
	got := map[aquarium.SensorID][]aquarium.Sample{}
	emit := func(v aquarium.Sample) { got[v.Sensor.Sensor] = append(got[v.Sensor.Sensor], v) }
	for at := time.Duration(0); at < lasts; at += every {
		for i, c := range tank.Sensors {
			v, l := truly(c.ID, at), looks[c.Quantity]
			if l.noise > 0 && v != 0 {
				v += l.noise * r.NormFloat64()
			}
			if l.grain > 0 {
				v = math.Round(v/l.grain) * l.grain
			}
			k := aquarium.SensorKey{Site: "quillmere-library", Tank: tank.ID, Sensor: c.ID}
			s.Take(aquarium.Sample{Sensor: k, At: monday.Add(at + time.Duration(i)*time.Second/100), Value: v}, emit)
		}
		s.Flush(monday.Add(at), emit)
	}
	s.Flush(monday.Add(lasts+24*time.Hour), emit)
	return got
}

// count counts the qualities from and up to and without those times.
func count(vs []aquarium.Sample, from, to time.Duration) map[aquarium.Quality]int {
	n := map[aquarium.Quality]int{}
	for _, v := range vs {
		if v.At >= monday.Add(from) && v.At < monday.Add(to) {
			n[v.Quality]++
		}
	}
	return n
}

// hours is a time of the play.
func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// within is v while the play is between two times, else another.
func within(at time.Duration, from, to, v, otherwise float64) float64 {
	if at >= hours(from) && at < hours(to) {
		return v
	}
	return otherwise
}

// daily is a value with a daily round.
func daily(at time.Duration, mean, swing float64) float64 {
	return mean + swing*math.Sin(2*math.Pi*at.Hours()/24)
}

// paces are the intervals that are tried.
var paces = []time.Duration{time.Second, 10 * time.Second, time.Minute, 15 * time.Minute}

// TestGoodIsGood: a tank with a daily round, steps of a flow, a change of water,
// switches that turn: nothing is marked, at any interval.
func TestGoodIsGood(t *testing.T) {
	tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH, "water": aquarium.Temperature, "salts": aquarium.Conductivity,
		"level": aquarium.Level, "flow": aquarium.Flow, "pump": aquarium.Switch, "room": aquarium.Temperature})
	for _, every := range paces {
		t.Run(every.String(), func(t *testing.T) {
			lasts := hours(96)
			if every < time.Minute {
				lasts = hours(30)
			}
			if every < 10*time.Second {
				lasts = hours(14)
			}
			got := play(tank, every, lasts, looks, func(id aquarium.SensorID, at time.Duration) float64 {
				switch id {
				case "ph": // dosed from eight, and a third of the water is changed at 25 h
					h := math.Mod(at.Hours(), 24)
					return 7.2 - 0.6*(1-math.Exp(-max(0, min(h-8, 9))/1.5))*math.Exp(-max(0, h-17)/3) + 0.3*min(1, max(0, at.Hours()-25)/0.5)
				case "water":
					return daily(at, 24.5, 0.3) - 2*min(1, max(0, at.Hours()-25)/0.5)
				case "room":
					return daily(at, 20, 3)
				case "salts":
					return daily(at, 320, 5) - 60*min(1, max(0, at.Hours()-25)/0.5)
				case "level":
					return 2*math.Sin(at.Hours()) - within(at, 25, 25.5, 80, 0)
				case "flow":
					return within(at, 12.5, 12.75, 0, 1000)
				}
				return float64(int(at.Hours()*3) % 2)
			})
			for id, vs := range got {
				n := count(vs, 0, lasts)
				if n[aquarium.Good] != len(vs) {
					t.Errorf("%s: %v", id, n)
				}
			}
		})
	}
}

// TestEach is one trouble after another, at the times and with the quality that
// it is to have.
func TestEach(t *testing.T) {
	room := map[aquarium.SensorID]aquarium.Quantity{"water": aquarium.Temperature, "room": aquarium.Temperature}
	alone := func(id aquarium.SensorID, q aquarium.Quantity) map[aquarium.SensorID]aquarium.Quantity {
		return map[aquarium.SensorID]aquarium.Quantity{id: q}
	}
	// airward is a thermometer lifted from 24.5 to a room of 19, with a time
	// constant of two minutes, at 26 h for half an hour.
	airward := func(id aquarium.SensorID, at time.Duration) float64 {
		if id == "room" {
			return 19
		}
		if id == "water-2" {
			return 24.9
		}
		out, in := (at - hours(26)).Minutes(), (at - hours(26.5)).Minutes()
		if out < 0 {
			return 24.5
		}
		if in < 0 {
			return 19 + 5.5*math.Exp(-out/2)
		}
		return 24.5 - 5.5*math.Exp(-in/2)
	}
	const ten, minute = 10 * time.Second, time.Minute
	for _, tt := range []struct {
		name     string
		sensors  map[aquarium.SensorID]aquarium.Quantity
		id       aquarium.SensorID
		every    time.Duration
		truly    func(id aquarium.SensorID, at time.Duration) float64
		from, to float64 // h: the time that is looked at
		quality  aquarium.Quality
		atLeast  int // readings of that quality
		others   int // at most, that are marked and of another quality
	}{
		{name: "an end of the range", sensors: alone("ph", aquarium.PH), id: "ph", every: ten,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 26, 27, 14, 6.8) },
			from:  26, to: 27, quality: aquarium.OutOfRange, atLeast: 360},
		{name: "nothing from a pH transmitter", sensors: alone("ph", aquarium.PH), id: "ph", every: ten,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 26, 27, 0, 6.8) },
			from:  26, to: 27, quality: aquarium.OutOfRange, atLeast: 360},
		{name: "a spike", sensors: alone("ph", aquarium.PH), id: "ph", every: ten,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 26, 26.002, 7.1, 6.8) },
			from:  25, to: 27, quality: aquarium.Spike, atLeast: 1},
		{name: "a splash", sensors: alone("level", aquarium.Level), id: "level", every: ten,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 26, 26.002, 15, 0.5) },
			from:  25, to: 27, quality: aquarium.Spike, atLeast: 1},
		{name: "a thermometer that says nought", sensors: alone("water", aquarium.Temperature), id: "water", every: minute,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 26, 27, 0, 24.5) },
			from:  26, to: 27, quality: aquarium.InAir, atLeast: 50, others: 10},
		{name: "in the air, room known", sensors: room, id: "water", every: ten, truly: airward,
			from: 26, to: 26.5, quality: aquarium.InAir, atLeast: 165, others: 3},
		{name: "in the air, room known, by the minute", sensors: room, id: "water", every: minute, truly: airward,
			from: 26, to: 26.5, quality: aquarium.InAir, atLeast: 26, others: 3},
		{name: "in the air, another thermometer", sensors: map[aquarium.SensorID]aquarium.Quantity{"water": aquarium.Temperature, "water-2": aquarium.Temperature},
			id: "water", every: ten, truly: airward, from: 26, to: 26.5, quality: aquarium.InAir, atLeast: 165, others: 3},
		{name: "in the air, nothing else known", sensors: alone("water", aquarium.Temperature), id: "water", every: ten, truly: airward,
			from: 26, to: 26.5, quality: aquarium.InAir, atLeast: 165, others: 3},
		{name: "a cell in the air", sensors: alone("salts", aquarium.Conductivity), id: "salts", every: ten,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 26, 26.5, 2, 320) },
			from:  26, to: 26.5, quality: aquarium.InAir, atLeast: 170, others: 3},
		{name: "an electrode in the air", sensors: alone("ph", aquarium.PH), id: "ph", every: ten,
			truly: func(_ aquarium.SensorID, at time.Duration) float64 {
				out := (at - hours(26)).Minutes()
				return within(at, 26, 26.25, 8.2-0.9*math.Exp(-out/5)+0.15*math.Sin(out*11), 6.8)
			},
			from: 26, to: 26.25, quality: aquarium.InAir, atLeast: 80, others: 3},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := play(tankOf(tt.sensors), tt.every, hours(28), looks, tt.truly)[tt.id]
			n := count(got, hours(tt.from), hours(tt.to))
			marked := 0
			for q, k := range n {
				if !q.Judged() && q != tt.quality {
					marked += k
				}
			}
			if n[tt.quality] < tt.atLeast || marked > tt.others {
				t.Errorf("%v, want %v at least %d times and at most %d other marks", n, tt.quality, tt.atLeast, tt.others)
			}
			for when, n := range map[string]map[aquarium.Quality]int{"before": count(got, 0, hours(tt.from)), "after": count(got, hours(tt.to+0.15), hours(28))} {
				if len(n) != 1 || n[aquarium.Good] == 0 {
					t.Errorf("%s: %v, want all good", when, n)
				}
			}
		})
	}
}

// TestBufferIsGood: an electrode taken out to be calibrated: what it says in two
// buffers is good but for their first readings, and in the tank again at once.
func TestBufferIsGood(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		got := play(tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH}), every, hours(28), looks, func(_ aquarium.SensorID, at time.Duration) float64 {
			if at >= hours(26) && at < hours(26.1) {
				return 7
			}
			return within(at, 26.1, 26.25, 4, 6.6)
		})["ph"]
		first, second := count(got, hours(26), hours(26.1)), count(got, hours(26.1), hours(26.25))
		t.Logf("every %v: pH 7 %v, pH 4 %v", every, first, second)
		if first[aquarium.Good] < int(0.7*0.1*3600/every.Seconds()) || second[aquarium.Good] < int(0.5*0.15*3600/every.Seconds()) {
			t.Errorf("every %v: pH 7 %v, pH 4 %v", every, first, second)
		}
		if n := count(got, hours(26.26), hours(28)); len(n) != 1 || n[aquarium.Good] == 0 {
			t.Errorf("every %v: back in the tank: %v", every, n)
		}
	}
}

// TestCalibrationStep: a step of a tenth is nothing, one of 0.4 neither.
func TestCalibrationStep(t *testing.T) {
	for _, step := range []float64{0.1, -0.1, 0.4} {
		got := play(tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH}), 10*time.Second, hours(28), looks, func(_ aquarium.SensorID, at time.Duration) float64 {
			return within(at, 26, 99, 6.8+step, 6.8)
		})["ph"]
		if n := count(got, 0, hours(28)); n[aquarium.Good] != len(got) {
			t.Errorf("%+.1f: %v", step, n)
		}
	}
}

// TestFirstReadingsMayBeWrong: a sensor that began with nonsense is not away for
// saying what is true.
func TestFirstReadingsMayBeWrong(t *testing.T) {
	got := play(tankOf(map[aquarium.SensorID]aquarium.Quantity{"water": aquarium.Temperature}), 10*time.Second, hours(2), looks,
		func(_ aquarium.SensorID, at time.Duration) float64 { return within(at, 0, 0.005, 0, 24.5) })["water"]
	if n := count(got, 0, hours(2)); n[aquarium.Good] < len(got)-2 {
		t.Errorf("%v", n)
	}
}

// TestThawed: a sensor that was frozen and works again has not learned to stand
// still.
func TestThawed(t *testing.T) {
	got := play(tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH}), 10*time.Second, hours(60), map[aquarium.Quantity]look{aquarium.PH: {0, 0.01}}, func(_ aquarium.SensorID, at time.Duration) float64 {
		if h := at.Hours(); h >= 30 && h < 36 || h >= 50 {
			return 6.5
		}
		return daily(at, 6.8, 0.2) + 0.01*math.Sin(at.Seconds()*77)
	})["ph"]
	for _, from := range []float64{31, 51} {
		if n := count(got, hours(from), hours(from+4)); n[aquarium.Frozen] < 4*360-10 {
			t.Errorf("from %v h: %v, want it frozen", from, n)
		}
	}
}

// TestNoisierForGood: a sensor that is noisier from now on is not marked for ever.
func TestNoisierForGood(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute} {
		lasts := 48 * time.Hour * max(1, every/(20*time.Second))
		n := 0
		got := play(tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH}), every, lasts, looks, func(_ aquarium.SensorID, at time.Duration) float64 {
			n++
			return within(at, 26, 9999, 6.8+0.08*math.Sin(float64(n*n)), 6.8)
		})["ph"]
		q := count(got, lasts-8*time.Hour, lasts)
		t.Logf("every %v: at first %v, at last %v", every, count(got, hours(26), hours(34)), q)
		if share := 1 - float64(q[aquarium.Good])/float64(8*time.Hour/every); share > 0.01 {
			t.Errorf("every %v: %v", every, q)
		}
	}
}

// TestFrozen: a value that stands still is frozen only if that sensor never
// stands so long.
func TestFrozen(t *testing.T) {
	coarse := map[aquarium.Quantity]look{aquarium.Temperature: {0.05, 0.5}}
	exact := map[aquarium.Quantity]look{aquarium.Level: {0, 1}, aquarium.Flow: {8, 10}, aquarium.Switch: {0, 1}}
	for _, tt := range []struct {
		name   string
		q      aquarium.Quantity
		looks  map[aquarium.Quantity]look
		every  time.Duration
		days   float64
		truly  func(at time.Duration) float64
		frozen time.Duration // at the latest after it began to stand; 0: never
	}{
		{"an electrode", aquarium.PH, looks, 10 * time.Second, 3, func(at time.Duration) float64 { return daily(at, 6.8, 0.2) }, time.Hour},
		{"an electrode by the minute", aquarium.PH, looks, time.Minute, 3, func(at time.Duration) float64 { return daily(at, 6.8, 0.2) }, 2 * time.Hour},
		{"a thermometer", aquarium.Temperature, looks, time.Minute, 3, func(at time.Duration) float64 { return daily(at, 24.5, 0.3) }, 2 * time.Hour},
		{"a flow", aquarium.Flow, looks, 10 * time.Second, 3, func(at time.Duration) float64 { return within(at, 12, 12.2, 0, 1000) }, time.Hour},
		{"a container that rests, with noise less than the resolution", aquarium.Level, map[aquarium.Quantity]look{aquarium.Level: {0.14, 1}}, time.Minute, 20,
			func(at time.Duration) float64 { return 60.5 + 1.5*math.Floor(at.Hours()/24/6.5) }, 0},
		{"a coarse thermometer", aquarium.Temperature, coarse, time.Minute, 10, func(at time.Duration) float64 { return daily(at, 24.5, 0.4) }, 0},
		{"a level without noise, changed once a week", aquarium.Level, exact, time.Minute, 30,
			func(at time.Duration) float64 {
				d := math.Mod(at.Hours()/24, 7)
				return 60 + 200*min(1, max(0, d-6.9)*10)
			}, 0},
		{"a filter that is off", aquarium.Flow, exact, 10 * time.Second, 10, func(at time.Duration) float64 { return within(at, 0, 200, 1000, 0) }, 0},
		{"a switch", aquarium.Switch, exact, 10 * time.Second, 10, func(at time.Duration) float64 { return float64(int(min(at.Hours(), 100)*9) % 2) }, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			stop := hours(24*tt.days - 6)
			id := map[aquarium.Quantity]aquarium.SensorID{aquarium.PH: "ph", aquarium.Temperature: "water", aquarium.Level: "waste", aquarium.Flow: "flow", aquarium.Switch: "pump"}[tt.q]
			var held float64
			own := tt.looks
			if tt.frozen != 0 {
				held = math.Round(tt.truly(stop)*100) / 100
			}
			tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{id: tt.q})
			s, r := New("quillmere-library", tank), rand.New(rand.NewPCG(5, 6))
			var first time.Duration
			for at := time.Duration(0); at < hours(24*tt.days); at += tt.every {
				l := own[tt.q]
				v := tt.truly(at)
				if v != 0 {
					v += l.noise * r.NormFloat64()
				}
				v = math.Round(v/l.grain) * l.grain
				if tt.frozen != 0 && at >= stop {
					v = held
				}
				s.Take(aquarium.Sample{Sensor: s.keys[0], At: monday.Add(at), Value: v}, func(v aquarium.Sample) {
					if v.Quality == aquarium.Frozen && first == 0 {
						first = v.At.Sub(monday)
					}
				})
			}
			switch {
			case tt.frozen == 0 && first != 0:
				t.Errorf("frozen after %v", first)
			case tt.frozen != 0 && (first < stop || first > stop+tt.frozen):
				t.Errorf("stands from %v on, frozen at %v, want within %v", stop, first, tt.frozen)
			}
		})
	}
}

// TestAtTheEnd: what is held when a sensor falls silent is a spike, and is not
// kept.
func TestAtTheEnd(t *testing.T) {
	tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH})
	s := New("quillmere-library", tank)
	var got []aquarium.Sample
	emit := func(v aquarium.Sample) { got = append(got, v) }
	for n := range 300 {
		s.Take(aquarium.Sample{Sensor: s.keys[0], At: monday.Add(time.Duration(n) * 10 * time.Second), Value: within(time.Duration(n)*time.Hour, 299, 300, 9, 6.8)}, emit)
	}
	end := monday.Add(2990 * time.Second)
	if s.Flush(end.Add(30*time.Second), emit); len(got) != 299 {
		t.Fatalf("%d after half a minute, want it held", len(got))
	}
	if s.Flush(end.Add(2*time.Minute), emit); len(got) != 300 || got[299].Quality != aquarium.Spike || got[299].At != end {
		t.Errorf("%d, the last %+v; want it let go as a spike", len(got), got[len(got)-1])
	}
	s.Take(aquarium.Sample{Sensor: s.keys[0], At: end, Value: 3}, emit)
	if len(got) != 301 || got[300].Quality != aquarium.Good {
		t.Error("a belated reading is handed on as it is")
	}
	stranger := aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: "stranger"}
	if s.Take(aquarium.Sample{Sensor: stranger, At: end, Value: 3}, emit); len(got) != 302 {
		t.Error("a stranger is handed on as it is")
	}
}

// TestQualityThatCameWithIt: one that was marked before stays so, and a retimed
// one stays retimed.
func TestQualityThatCameWithIt(t *testing.T) {
	s := New("quillmere-library", tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH}))
	var got []aquarium.Quality
	for n, q := range []aquarium.Quality{aquarium.Good, aquarium.Retimed, aquarium.Electrical, aquarium.OutOfRange} {
		s.Take(aquarium.Sample{Sensor: s.keys[0], At: monday.Add(time.Duration(n) * time.Minute), Value: 6.8, Quality: q}, func(v aquarium.Sample) { got = append(got, v.Quality) })
	}
	if fmt.Sprint(got) != "[good retimed electrical range]" {
		t.Errorf("got %v", got)
	}
}

// TestStateIsAll: a screen that was put back to a state, or given one as JSON,
// says what the first one said.
func TestStateIsAll(t *testing.T) {
	tank := tankOf(map[aquarium.SensorID]aquarium.Quantity{"ph": aquarium.PH, "water": aquarium.Temperature, "room": aquarium.Temperature, "pump": aquarium.Switch})
	r := rand.New(rand.NewPCG(9, 9))
	var vs []aquarium.Sample
	for n := range 20000 {
		at := monday.Add(time.Duration(n) * 10 * time.Second)
		on := float64(n / 90 % 2)
		for i, v := range []float64{6.8 + 0.2*on + 0.3*float64(n/777%2), 24.5 - 5*float64(n/1311%2), 20, on} {
			if i < 2 {
				v = math.Round((v+0.01*r.NormFloat64())*100) / 100
			}
			vs = append(vs, aquarium.Sample{Sensor: aquarium.SensorKey{Site: "quillmere-library", Tank: "atrium", Sensor: tank.Sensors[i].ID}, At: at, Value: v})
		}
	}
	judge := func(s *Screen, vs []aquarium.Sample) (got []aquarium.Sample) {
		for _, v := range vs {
			s.Take(v, func(v aquarium.Sample) { got = append(got, v) })
		}
		return got
	}
	s := New("quillmere-library", tank)
	judge(s, vs[:41111])
	var st State
	s.Save(&st)
	raw, err := json.Marshal(st)
	if err != nil {
		t.Fatal(err)
	}
	want := judge(s, vs[41111:])
	marks := map[aquarium.Quality]int{}
	for _, v := range want {
		marks[v.Quality]++
	}
	t.Logf("%d bytes of JSON; marks %v", len(raw), marks)
	if load, by, ok := s.Stepping("ph"); !ok || load != "pump" || math.Abs(by-0.2) > 0.05 {
		t.Errorf("steps with %q by %v, %v; want the pump and 0.2", load, by, ok)
	}
	if len(marks) < 3 {
		t.Errorf("a story without marks proves nothing: %v", marks)
	}
	s.Restore(&st)
	if got := judge(s, vs[41111:]); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Error("put back, it says something else")
	}
	var back State
	if err := json.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	other := New("quillmere-library", tank)
	other.Restore(&back)
	if got := judge(other, vs[41111:]); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Error("told by JSON, it says something else")
	}
	fewer := tank
	fewer.Sensors = tank.Sensors[1:]
	third := New("quillmere-library", fewer)
	third.Restore(&back)
	if third.sensors[0] != other.sensors[0] && third.sensors[0].Heard != back.Sensors[1].Heard {
		t.Error("what is known of a sensor is lost with another one")
	}
}
