package water

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// Source: NBS/NIST standards (testdata/ph_buffers_nbs.csv): 0.005 pH, rows
// between two of the steps kept here included.
func TestBuffersAgainstNBS(t *testing.T) {
	n, worst := 0, 0.0
	for _, row := range table(t, "ph_buffers_nbs.csv") {
		at := Celsius(number(t, row["temp_C"]))
		for column, b := range map[string]Buffer{"phthalate": Phthalate, "phosphate_6.86": Phosphate,
			"phosphate_7.00": PhosphateSeven, "borax": Borax, "carbonate": CarbonateTen} {
			got, err := b.At(at)
			if err != nil {
				t.Fatal(err)
			}
			want := number(t, row[column])
			near(t, fmt.Sprintf("%s at %v", b.Name, at), float64(got), want, 0.005)
			worst = max(worst, math.Abs(float64(got)-want))
			n++
		}
	}
	enough(t, n, 15*5)
	t.Logf("worst difference %.4f pH", worst)
}

// Source: bottles sold as 4, 7 and 10, and JIS Z 8802
// (testdata/ph_buffers_technical.csv): 0.01 pH, and 0.012 for JIS phthalate at
// 5 Cel, as the table's own notes say of the two.
func TestBuffersAgainstTechnicalTable(t *testing.T) {
	n, worst := 0, map[string]float64{}
	for _, row := range table(t, "ph_buffers_technical.csv") {
		at := Celsius(number(t, row["temp_C"]))
		for column, b := range map[string]Buffer{"tech_4": TechnicalFour, "tech_7": TechnicalSeven, "tech_10": TechnicalTen,
			"jis_phthalate": Phthalate, "jis_phosphate": Phosphate, "jis_borate": Borax, "jis_carbonate": CarbonateTen} {
			if row[column] == "" {
				continue
			}
			got, err := b.At(at)
			if err != nil {
				t.Fatal(err)
			}
			want, tolerance := number(t, row[column]), 0.01
			if column == "jis_phthalate" {
				tolerance = 0.012
			}
			near(t, fmt.Sprintf("%s at %v", column, at), float64(got), want, tolerance+1e-9)
			worst[column] = max(worst[column], math.Abs(float64(got)-want))
			n++
		}
	}
	enough(t, n, 11*7-3)
	t.Logf("worst differences: %.3v", worst)
}

// Source: phthalate by equation (Hetzer et al. 1977, in the notes of
// testdata/ph_buffers_nbs.csv): 0.005 from 10 to 45 Cel, beyond which the
// sources part.
func TestPhthalateEquation(t *testing.T) {
	for at := Celsius(10); at <= 45; at += 2.5 {
		k := at.kelvin()
		got, err := Phthalate.At(at)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprint("phthalate at ", at), float64(got), 2073.44/k-13.3270+0.045199*k-3.4846e-5*k*k, 0.005)
	}
}

// Every bottle is worth what is printed on it at 25 Cel, to 0.005.
func TestLabels(t *testing.T) {
	for label, b := range labels {
		got, err := b.At(25)
		if err != nil {
			t.Fatal(err)
		}
		near(t, b.Name, float64(got), float64(label), 0.005+1e-9)
	}
	if _, known := Labelled(7.41); known {
		t.Error("a bottle of pH 7.41 is known, want unknown")
	}
}

// criteria are the values of testdata/ph_electrode_criteria.csv.
func criteria(t *testing.T) map[string]float64 {
	m := map[string]float64{}
	for _, row := range table(t, "ph_electrode_criteria.csv") {
		m[row["item"]] = number(t, row["value"])
	}
	return m
}

// Source: electrode practice, with two worked electrodes
// (testdata/ph_electrode_criteria.csv): slope 0.05 %, and what the page calls
// them.
func TestWorkedElectrodes(t *testing.T) {
	c := criteria(t)
	for name, want := range map[string]Condition{"example1": ElectrodeGood, "example2": ElectrodeUnacceptable} {
		got, err := Calibrate(Calibration{}, 25,
			Standard{7.01, Millivolt(c[name+"_mV_at_7.01"])}, Standard{4.01, Millivolt(c[name+"_mV_at_4.01"])})
		if err != nil {
			t.Fatal(err)
		}
		slope, known := got.Slope()
		near(t, name, slope, c[name+"_slope_pct"], 0.05)
		if !known || got.Condition() != want {
			t.Errorf("%s: slope known %v, %s, want %s", name, known, got.Condition(), want)
		}
	}
}

// Source: the bands of the same table, each from just inside and just outside.
func TestConditionBands(t *testing.T) {
	c := criteria(t)
	for _, row := range []struct {
		name          string
		slope, offset float64
		want          Condition
	}{
		{"ideal", 100, 0, ElectrodeGood},
		{"good, lowest", c["slope_good_min"] + 0.01, 0, ElectrodeGood},
		{"under good", c["slope_good_min"] - 0.01, 0, ElectrodeAcceptable},
		{"good, highest", c["slope_good_max"] - 0.01, 0, ElectrodeGood},
		{"over good", c["slope_good_max"] + 0.01, 0, ElectrodeAcceptable},
		{"acceptable, lowest", c["slope_accept_min"] + 0.01, 0, ElectrodeAcceptable},
		{"under acceptable", c["slope_accept_min"] - 0.01, 0, ElectrodeUnacceptable},
		{"acceptable, highest", c["slope_accept_max"] - 0.01, 0, ElectrodeAcceptable},
		{"over acceptable", c["slope_accept_max"] + 0.01, 0, ElectrodeUnacceptable},
		{"offset within", 99, c["offset_accept"] - 0.01, ElectrodeGood},
		{"offset beyond", 99, c["offset_accept"] + 0.01, ElectrodeUnacceptable},
		{"offset beyond, below", 99, -c["offset_accept"] - 0.01, ElectrodeUnacceptable},
	} {
		t.Run(row.name, func(t *testing.T) {
			s, _ := NernstSlope(25)
			give := func(ph PH) Standard {
				return Standard{ph, Millivolt(row.offset + row.slope/100*float64(s)*(7-float64(ph)))}
			}
			got, err := Calibrate(Calibration{}, 25, give(4.01), give(7), give(10.01))
			if err != nil {
				t.Fatal(err)
			}
			if got.Condition() != row.want {
				t.Errorf("slope %g, offset %g: got %s, want %s", row.slope, row.offset, got.Condition(), row.want)
			}
			near(t, "offset", float64(got.Offset()), row.offset, 1e-9)
		})
	}
}

// An electrode of 96 % and 8 mV, made up: whatever it is calibrated with, its
// potentials must come back as the pH they were made from.
func TestCalibrationComesBack(t *testing.T) {
	nernst := func(at Celsius) float64 { s, _ := NernstSlope(at); return float64(s) }
	gives := func(ph PH, at Celsius) Millivolt { return Millivolt(8 + 0.96*nernst(at)*(7-float64(ph))) }
	ideal, err := Ideal(20)
	if err != nil {
		t.Fatal(err)
	}
	two, err := Calibrate(ideal, 20, Standard{7.016, gives(7.016, 20)}, Standard{4.001, gives(4.001, 20)})
	if err != nil {
		t.Fatal(err)
	}
	three, err := Calibrate(ideal, 20, Standard{10.062, gives(10.062, 20)}, Standard{7.016, gives(7.016, 20)}, Standard{4.001, gives(4.001, 20)})
	if err != nil {
		t.Fatal(err)
	}
	// Its offset moved by 5 mV since: one buffer tells.
	one, err := Calibrate(two, 26, Standard{7, gives(7, 26) + 5})
	if err != nil {
		t.Fatal(err)
	}
	for ph := PH(4.5); ph < 9.6; ph += 0.5 {
		for _, at := range []Celsius{15, 20, 25, 30} {
			for name, c := range map[string]struct {
				cal  Calibration
				more Millivolt
			}{"two": {two, 0}, "three": {three, 0}, "one": {one, 5}} {
				got, err := c.cal.PH(gives(ph, at)+c.more, at)
				if err != nil {
					t.Fatal(err)
				}
				near(t, fmt.Sprintf("%s buffers, %v at %v", name, ph, at), float64(got), float64(ph), 1e-9)
			}
		}
	}
	for name, c := range map[string]Calibration{"two": two, "one": one} {
		if s, known := c.Slope(); !known || math.Abs(s-96) > 1e-9 {
			t.Errorf("%s: slope %g, known %v, want 96", name, s, known)
		}
	}
	alone, err := Calibrate(ideal, 20, Standard{7.016, gives(7.016, 20)})
	if err != nil {
		t.Fatal(err)
	}
	if _, known := alone.Slope(); known {
		t.Error("one buffer alone: the slope is known, want unknown")
	}
}

// A third buffer mends its own side: 4 and 7 are right, 10 reads 0.4 low, as a
// bottle that has stood open does.
func TestThirdBufferMendsItsOwnSide(t *testing.T) {
	four, err1 := Read(4, 4, 25)
	seven, err2 := Read(7, 7, 25)
	ten, err3 := Read(10, 9.6, 25)
	c, err := Calibrate(Calibration{}, 25, four, seven, ten)
	if err := first(err1, err2, err3, err); err != nil {
		t.Fatal(err)
	}
	for reading, want := range map[PH]float64{5: 5, 6.6: 6.6, 7: 7, 8.3: 8.5, 9.6: 10} {
		got, err := c.Corrected(reading)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprint(reading), float64(got), want, 1e-9)
	}
	if s, _ := c.Slope(); math.Abs(s-100*2.6/3) > 1e-9 {
		t.Errorf("slope %g, want that of the worse side, %g", s, 100*2.6/3)
	}
}

// The bound stated at PH: 5 Cel taken wrong.
func TestTemperatureTakenWrong(t *testing.T) {
	c, err := Ideal(25)
	if err != nil {
		t.Fatal(err)
	}
	for _, ph := range []PH{6, 7, 8} {
		mv, _ := IdealElectrode(ph, 20)
		got, err := c.PH(mv, 25)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprint(ph), float64(got), float64(ph), 0.017*math.Abs(float64(ph-7))+1e-9)
	}
}

func TestCalibrationRefuses(t *testing.T) {
	ideal, _ := Ideal(25)
	for _, c := range []struct {
		name      string
		former    Calibration
		at        Celsius
		standards []Standard
	}{
		{"no buffer", ideal, 25, nil},
		{"one buffer and no slope", Calibration{}, 25, []Standard{{7, 0}}},
		{"twice the same", ideal, 25, []Standard{{7, 0}, {7, 1}}},
		{"6.86 and 7.00", ideal, 25, []Standard{{7, 0}, {6.86, 9}}},
		{"the wrong way round", ideal, 25, []Standard{{7, 170}, {4, 0}}},
		{"the same in both", ideal, 25, []Standard{{7, 0}, {4, 0}}},
		{"a buffer of 0", ideal, 25, []Standard{{0, 0}}},
		{"NaN", ideal, 25, []Standard{{7, Millivolt(math.NaN())}}},
		{"frozen buffers", ideal, -1, []Standard{{7, 0}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := Calibrate(c.former, c.at, c.standards...); !errors.Is(err, ErrRange) {
				t.Errorf("got %v, want ErrRange", err)
			}
		})
	}
	if _, err := ideal.Corrected(15); !errors.Is(err, ErrRange) {
		t.Errorf("a reading of 15: got %v, want ErrRange", err)
	}
	if _, err := ideal.PH(0, 60); !errors.Is(err, ErrRange) {
		t.Errorf("water of 60 Cel: got %v, want ErrRange", err)
	}
	if _, err := Borax.At(51); !errors.Is(err, ErrRange) {
		t.Errorf("borax at 51 Cel: got %v, want ErrRange", err)
	}
}

// FuzzCalibrate: whatever buffers and readings there are, a calibration is
// refused, or gives back each buffer for what was read in it, rises everywhere,
// and half way to another curve lies between the two.
func FuzzCalibrate(f *testing.F) {
	f.Add(7.0, 6.98, 4.01, 4.05, 10.01, 9.9, 6.6)
	f.Add(7.0, 6.99, 10.0, 11.8, 4.0, 4.1, 7.5)
	f.Fuzz(func(t *testing.T, b1, r1, b2, r2, b3, r3, reading float64) {
		ideal, _ := Ideal(25)
		var ss []Standard
		for _, p := range [][2]float64{{b1, r1}, {b2, r2}, {b3, r3}} {
			s, err := Read(PH(p[0]), PH(p[1]), 25)
			if err != nil {
				return
			}
			ss = append(ss, s)
		}
		c, err := Calibrate(ideal, 25, ss...)
		if err != nil {
			if !errors.Is(err, ErrRange) {
				t.Fatal(err)
			}
			return
		}
		for i, r := range []float64{r1, r2, r3} {
			got, err := c.Corrected(PH(r))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "in a buffer", float64(got), float64(ss[i].Buffer), 1e-9)
		}
		at, err := c.Corrected(PH(reading))
		if err != nil {
			return // no pH
		}
		more, err := c.Corrected(PH(reading) + 0.01)
		if err == nil && !(more > at) {
			t.Errorf("%g gives %g, and 0.01 more %g", reading, float64(at), float64(more))
		}
		half, err := ideal.Between(c, 0.5).Corrected(PH(reading))
		if lo, hi := min(at, PH(reading)), max(at, PH(reading)); err != nil || half < lo-1e-9 || half > hi+1e-9 {
			t.Errorf("half way: %g, %v, want between %g and %g", float64(half), err, float64(lo), float64(hi))
		}
	})
}
