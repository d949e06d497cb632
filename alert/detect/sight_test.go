package detect

import (
	"os"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// complete is the library with every part there is.
func complete() aquarium.Site {
	site := library()
	t := &site.Tanks[0]
	withRoom(t)
	withCooling(t)
	withLights(t)
	withStores(t)
	t.Sensors = append(t.Sensors, aquarium.Sensor{ID: "dose", Quantity: aquarium.Switch})
	t.Equipment.Dosers = []aquarium.Doser{{ID: "iron", Switch: "dose", MLPerDay: 5}}
	return site
}

// TestSight: every cause is spoken of once; what a tank with everything shows
// is exactly what is judged, and a bare tank says what it lacks.
func TestSight(t *testing.T) {
	judged := map[aquarium.Cause]bool{}
	for _, c := range Judged() {
		judged[c] = true
	}
	site := complete()
	seen := Sight(site, site.Tanks[0])
	told := map[aquarium.Cause]bool{}
	for _, s := range seen {
		if told[s.Cause] || s.Cause.Own() {
			t.Errorf("%s is told twice, or is lentic's own", s.Cause)
		}
		told[s.Cause] = true
		if judged[s.Cause] != (s.Blind == "") {
			t.Errorf("%s: judged %v, blind %q", s.Cause, judged[s.Cause], s.Blind)
		}
	}
	for _, c := range aquarium.Causes() {
		if !c.Own() && !told[c] {
			t.Errorf("nothing is said of %s", c)
		}
	}
	want := map[aquarium.Cause]string{
		aquarium.CO2Overshoot: "co2", aquarium.CO2ValveStuck: "co2", aquarium.PHLow: "pH", aquarium.PHHigh: "pH", aquarium.PHFalling: "pH",
		aquarium.TopOffRunaway: "top_off", aquarium.FilterStalled: "filters", aquarium.TemperatureHigh: "temperature",
		aquarium.TemperatureLow: "temperature", aquarium.HeaterStuckOn: "heater", aquarium.HeaterNotHeating: "heater", aquarium.CoolingNotCooling: "cooling",
		aquarium.LightsNotOn: "lights", aquarium.LightsStuckOn: "lights", aquarium.DoserNotDosing: "dosers", aquarium.FilterClogging: "filters",
		aquarium.TopOffFailed: "top_off", aquarium.WaterLoss: "level", aquarium.WaterChangeIncomplete: "water_change", aquarium.ReservoirLow: "reservoir",
		aquarium.ReservoirNotRefilling: "reservoir", aquarium.ReservoirOverfull: "reservoir", aquarium.DrainOverflow: "drain", aquarium.DrainPumpFailed: "drain",
		aquarium.TankPowerLost: "mains", aquarium.FloorWet: "floor", aquarium.PowerLost: "mains",
	}
	for _, s := range Sight(site, aquarium.Tank{ID: "bare"}) {
		if w, ok := want[s.Cause]; ok && !strings.Contains(s.Blind, w) {
			t.Errorf("%s at a bare tank: %q, want something about %q", s.Cause, s.Blind, w)
		}
	}
}

// TestEachCauseItsOwnFile: who looks for a cause finds it by its name.
func TestEachCauseItsOwnFile(t *testing.T) {
	for _, c := range Judged() {
		file := strings.ReplaceAll(string(c), "-", "_") + ".go"
		b, err := os.ReadFile(file)
		if err != nil {
			t.Errorf("%s: want a file of its name: %v", c, err)
			continue
		}
		if want := strings.ReplaceAll(string(c), "-", ""); !strings.Contains(strings.ToLower(string(b)), "func "+want+"(v *view") {
			t.Errorf("%s does not judge %s", file, c)
		}
	}
}
