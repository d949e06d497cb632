package water

import (
	"fmt"
	"testing"
)

// Source: Plummer & Busenberg 1982 evaluated by PHREEQC, and Harned & Davis
// 1943 (testdata/carbonate_pk_table.csv): 0.0005, and 0.005 for the latter.
func TestConstantsAgainstTable(t *testing.T) {
	n := 0
	for _, row := range table(t, "carbonate_pk_table.csv") {
		at := Celsius(number(t, row["temp_C"]))
		for _, c := range []struct {
			column    string
			pk        func(Celsius) (float64, error)
			tolerance float64
		}{
			{"pb_pK1", PK1, 0.0005}, {"pb_pK2", PK2, 0.0005}, {"pb_pKH", PKH, 0.0005}, {"pb_pKw", PKW, 0.0005},
			{"pK1_harned_davis", PK1, 0.005},
		} {
			if row[c.column] == "" {
				continue
			}
			got, err := c.pk(at)
			if err != nil {
				t.Fatal(err)
			}
			near(t, fmt.Sprintf("%s at %v", c.column, at), got, number(t, row[c.column]), c.tolerance)
			n++
		}
	}
	enough(t, n, 13*4+7)
}

// Source: testdata/carbonate_logk_coeffs.csv, log10 K at 25 Cel as printed.
func TestConstantsAt25(t *testing.T) {
	pks := map[string]func(Celsius) (float64, error){"K1": PK1, "K2": PK2, "KH": PKH, "KW": PKW}
	n := 0
	for _, row := range table(t, "carbonate_logk_coeffs.csv") {
		got, err := pks[row["constant"]](25)
		if err != nil {
			t.Fatal(err)
		}
		near(t, row["constant"], -got, number(t, row["log10K_25C"]), 0.00005)
		n++
	}
	enough(t, n, 4)
}

// Source: Davies 1962, Bradley & Pitzer 1979 (testdata/davies.csv): 0.001.
func TestActivityAgainstTable(t *testing.T) {
	n := 0
	for _, row := range table(t, "davies.csv") {
		at := Celsius(number(t, row["temp_C"]))
		if row["kind"] == "A" {
			near(t, fmt.Sprintf("A at %v", at), debyeHueckel(at), number(t, row["value"]), 0.001)
			n++
			continue
		}
		for charge, column := range map[int]string{1: "value", -2: "value2"} {
			got, err := Activity(charge, MolPerL(number(t, row["ionic_strength"])), at)
			if err != nil {
				t.Fatal(err)
			}
			near(t, fmt.Sprint(row), got, number(t, row[column]), 0.001)
			n++
		}
	}
	enough(t, n, 6+2*14)
}

// Source: CODATA 2018 (testdata/nernst_slope.csv): 0.001 mV.
func TestNernstSlopeAgainstTable(t *testing.T) {
	n := 0
	for _, row := range table(t, "nernst_slope.csv") {
		at := Celsius(number(t, row["temp_C"]))
		got, err := NernstSlope(at)
		if err != nil {
			t.Fatal(err)
		}
		near(t, at.String(), float64(got), number(t, row["slope_mV_per_pH"]), 0.001)
		n++
	}
	enough(t, n, 14)
	mv, err := IdealElectrode(6, 25)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "one pH below its zero", float64(mv), 59.159, 0.001)
}

// Source: DIN degree, molar masses (testdata/unit_conversions.csv): 1e-6.
func TestAlkalinityUnits(t *testing.T) {
	n := 0
	for _, row := range table(t, "unit_conversions.csv") {
		want := number(t, row["factor"])
		var got float64
		switch row["from"] + " to " + row["to"] {
		case "dKH to mg/L CaCO3":
			got = float64(DegreeKH(1).CaCO3())
		case "dKH to meq/L":
			got = float64(DegreeKH(1).MeqPerL())
		case "meq/L to dKH":
			got = float64(MeqPerL(1).DegreeKH())
		case "meq/L to mg/L CaCO3":
			got = float64(MeqPerL(1).DegreeKH().CaCO3())
		default:
			continue
		}
		near(t, row["from"]+" to "+row["to"], got, want, 1e-6*want)
		n++
	}
	enough(t, n, 4)
}
