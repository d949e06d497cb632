package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
)

// probes is a tank with a probe that sends mV and one that sends pH.
func probes(t *testing.T) *services {
	t.Helper()
	cfg := &config.Config{Data: t.TempDir(), Sites: []aquarium.Site{{ID: "quillmere-library", Name: "Quillmere Library", Timezone: time.UTC, Tanks: []aquarium.Tank{{
		ID: "atrium", Sensors: []aquarium.Sensor{{ID: "probe", Quantity: aquarium.PH, Unit: "mV"}, {ID: "ph", Quantity: aquarium.PH, Unit: "pH"}},
	}}}}}
	s, err := openOffline(cfg, "test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.close() })
	return s
}

var (
	march = aquarium.At(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))
	tank1 = aquarium.TankKey{Site: "quillmere-library", Tank: "atrium"}
)

// told runs an operation and returns what it writes.
func told(t *testing.T, s *services, name string, args any) (string, error) {
	t.Helper()
	a, err := json.Marshal(args)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	err = s.do(context.Background(), name, a, nil, &out)
	return out.String(), err
}

func inBuffers(sensor aquarium.SensorID, unit aquarium.Unit, state aquarium.AsState, at aquarium.Instant, bs ...aquarium.Buffer) CalibrateArgs {
	return CalibrateArgs{Site: tank1.Site, Tank: tank1.Tank, At: at,
		Calibration: aquarium.Calibration{Sensor: sensor, Unit: unit, Temperature: 25, Buffers: bs, State: state}}
}

// TestCalibrationsChangeWhatIsDerived: from the store through the operation to
// the export, for millivolts and for pH, and never what was received.
func TestCalibrationsChangeWhatIsDerived(t *testing.T) {
	s := probes(t)
	key := func(id aquarium.SensorID) aquarium.SensorKey {
		return aquarium.SensorKey{Site: tank1.Site, Tank: tank1.Tank, Sensor: id}
	}
	var rs []aquarium.Reading
	for h := range 5 {
		rs = append(rs, aquarium.Reading{Sensor: key("probe"), At: march.Add(time.Duration(h) * time.Hour), Value: 23.6, Unit: "mV"},
			aquarium.Reading{Sensor: key("ph"), At: march.Add(time.Duration(h) * time.Hour), Value: 6.6, Unit: "pH"})
	}
	if _, err := s.store.Append(aquarium.Batch{Readings: rs, Arrived: march}, nil); err != nil {
		t.Fatal(err)
	}
	exported := func(id aquarium.SensorID, corrected bool) string {
		t.Helper()
		out, err := told(t, s, "export", ExportArgs{Site: tank1.Site, Tank: tank1.Tank, Sensor: id, From: march, To: march.Add(24 * time.Hour), Corrected: corrected})
		if err != nil {
			t.Fatal(err)
		}
		var values []string
		for i, line := range strings.Split(strings.TrimSpace(out), "\n") {
			if cells := strings.Split(strings.TrimSpace(line), ","); i > 0 {
				v, err := strconv.ParseFloat(cells[4], 64)
				if err != nil {
					t.Fatal(err)
				}
				values = append(values, fmt.Sprintf("%.3f", v))
			}
		}
		return strings.Join(values, " ")
	}
	want := func(what, got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("%s: got %q, want %q", what, got, want)
		}
	}
	want("millivolts before any calibration", exported("probe", false), "")
	ideal := []aquarium.Buffer{{Label: 7, Reading: 0}, {Label: 4.01, Reading: 177.18}}
	shifted := []aquarium.Buffer{{Label: 7, Reading: 5.916}, {Label: 4.01, Reading: 183.096}}
	said, err := told(t, s, "calibrate", inBuffers("probe", "mV", "", march.Add(time.Hour), ideal...))
	if err != nil || !strings.Contains(said, "slope 100.0 % of the Nernst slope, offset +0.0 mV at pH 7: good") || !strings.Contains(said, "those that are stored included") {
		t.Errorf("calibrate: %v, said\n%s", err, said)
	}
	if live := s.newSamples(rs[2:3]); len(live) != 1 || math.Abs(live[0].Value-6.601) > 0.001 {
		t.Errorf("as it would be judged: got %v, want pH 6.601", live)
	}
	want("from its time on", exported("probe", false), "6.601 6.601 6.601 6.601")
	said, err = told(t, s, "calibrate", inBuffers("probe", "mV", "", march.Add(3*time.Hour), shifted...))
	if err != nil || !strings.Contains(said, "to be added: drift +0.10 pH; within 0.2") || !strings.Contains(said, "26 % too high") {
		t.Errorf("calibrate: %v, said\n%s", err, said)
	}
	want("another one", exported("probe", false), "6.601 6.601 6.701 6.701")
	want("spread back", exported("probe", true), "6.601 6.651 6.701 6.701")

	seven := func(read float64) aquarium.Buffer { return aquarium.Buffer{Label: 7, Reading: read} }
	if _, err := told(t, s, "calibrate", inBuffers("ph", "pH", aquarium.AsLeft, march, seven(7))); err != nil {
		t.Fatal(err)
	}
	said, err = told(t, s, "calibrate", inBuffers("ph", "pH", aquarium.AsFound, march.Add(4*time.Hour), seven(7.4)))
	if err != nil || !strings.Contains(said, "drift -0.40 pH; over 0.2: a record needs its correction; a record with it is rated good") || !strings.Contains(said, "60 % too low") {
		t.Errorf("calibrate: %v, said\n%s", err, said)
	}
	want("pH as received", exported("ph", false), "6.600 6.600 6.600 6.600 6.600")
	want("pH corrected", exported("ph", true), "6.600 6.500 6.400 6.300 6.200")
	err = s.store.Window(key("probe"), march, march.Add(24*time.Hour), func(r aquarium.Reading) bool {
		if r.Value != 23.6 || r.Unit != "mV" {
			t.Errorf("stored: %v, want as received", r)
		}
		return true
	})
	if err != nil {
		t.Error(err)
	}
}

func TestCalibrateSaysWhatIsWrong(t *testing.T) {
	s := probes(t)
	seven := aquarium.Buffer{Label: 7, Reading: 7}
	for _, c := range []struct {
		name   string
		args   CalibrateArgs
		word   string
		status int
	}{
		{"pH of a probe that sends mV", inBuffers("probe", "pH", "", march, seven), "--mv", Usage},
		{"no buffer", inBuffers("ph", "pH", "", march), "want one to 3", Usage},
		{"no such sensor", inBuffers("salt", "pH", "", march, seven), "salt", Failed},
		{"buffers too near", inBuffers("ph", "pH", "", march, seven, aquarium.Buffer{Label: 6.86, Reading: 6.86}), "want at least 0.5", Usage},
		{"to come", inBuffers("ph", "pH", "", aquarium.At(time.Now().Add(time.Hour)), seven), "still to come", Usage},
	} {
		if _, err := told(t, s, "calibrate", c.args); ExitStatus(err) != c.status || err == nil || !strings.Contains(err.Error(), c.word) {
			t.Errorf("%s: got %v (status %d), want %q and %d", c.name, err, ExitStatus(err), c.word, c.status)
		}
	}
	if _, err := told(t, s, "calibrate", CalibrateArgs{Site: "nowhere", Tank: "atrium"}); !errors.Is(err, aquarium.ErrUnknownSite) {
		t.Errorf("another site: %v", err)
	}
}
