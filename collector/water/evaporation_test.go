package water

import (
	"fmt"
	"testing"
)

// Source: ASHRAE form worked out with IAPWS-95 properties
// (testdata/evaporation.csv): 0.5 %.
func TestEvaporationAgainstWorkedRows(t *testing.T) {
	n := 0
	var s Surface
	for _, row := range table(t, "evaporation.csv") {
		want := number2(t, row["value"])
		switch row["item"] {
		case "worked":
			var w, a float64
			if _, err := fmt.Sscanf(row["expression_or_inputs"], "water %f C; air %f C %f %%RH; V %f m/s; A %f m2; Fa 1",
				&w, &a, &s.Humidity, &s.Draught, &s.Area); err != nil {
				t.Fatal(err)
			}
			s.Water, s.Air, s.Activity = Celsius(w), Celsius(a), 1
			got, err := s.Evaporation()
			if err != nil {
				t.Fatal(err)
			}
			kgPerS := float64(got) * density(s.Water) / 1000 / 3600
			near(t, row["expression_or_inputs"], kgPerS, want, 0.005*want)
			n++
		case "worked_l_day":
			s.Activity = 0 // a still surface: 0.5
			got, err := s.Evaporation()
			if err != nil {
				t.Fatal(err)
			}
			near(t, fmt.Sprint(s), float64(got)*24, want, 0.005*want)
			n++
		}
	}
	enough(t, n, 10)
}

// number2 is number, 0 for an empty field.
func number2(t *testing.T, s string) float64 {
	if s == "" {
		return 0
	}
	return number(t, s)
}

func TestMoistAirCondenses(t *testing.T) {
	got, err := Surface{Water: 15, Air: 30, Humidity: 90, Area: 1}.Evaporation()
	if err != nil || got >= 0 {
		t.Errorf("cold water under warm moist air: got %g, %v, want less than 0", float64(got), err)
	}
}

// Source: IAPWS-95 and ASHRAE 2017 (testdata/water_properties.csv): density
// 0.01 kg/m3, vapour pressure 3e-4 of its formula's and the table's values and
// 6e-4 of IAPWS-95's, latent heat 1 kJ/kg.
func TestPropertiesAgainstTable(t *testing.T) {
	n := 0
	for _, row := range table(t, "water_properties.csv") {
		at := Celsius(number(t, row["temp_C"]))
		rho, err1 := Density(at)
		p, err2 := VapourPressure(at)
		l, err3 := LatentHeat(at)
		if err := first(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("density at %v", at), rho, number(t, row["density_kg_m3"]), 0.01)
		near(t, fmt.Sprintf("latent heat at %v", at), l, number(t, row["latent_heat_kJ_kg"]), 1)
		for column, tolerance := range map[string]float64{"psat_Pa_ashrae_eq": 3e-4, "psat_Pa_ashrae_table": 3e-4, "psat_Pa_iapws95": 6e-4} {
			if row[column] != "" {
				want := number(t, row[column])
				near(t, fmt.Sprintf("%s at %v", column, at), float64(p), want, tolerance*want)
			}
		}
		n++
	}
	enough(t, n, 32)
}
