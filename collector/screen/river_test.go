package screen

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// mark is a reading of the river data, and whether a technician acted on it.
type mark struct {
	at    aquarium.Instant
	value float64
	acted bool
}

// river reads one variable of a station: LENTIC_DATASETS/river-sonde, whose
// sources are in the README beside it. Quality 10 is a good reading whose drift
// was corrected; a reading without a corrected value was judged unusable.
func river(t *testing.T, file, variable string) []mark {
	t.Helper()
	dir := os.Getenv("LENTIC_DATASETS")
	if dir == "" {
		t.Skip("LENTIC_DATASETS is not set: the river data is not there")
	}
	f, err := os.Open(filepath.Join(dir, "river-sonde", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	var marks []mark
	for _, r := range rows[1:] {
		at, err := time.Parse("2006-01-02 15:04", r[0][:16])
		if err != nil {
			t.Fatal(err)
		}
		v, err := strconv.ParseFloat(r[column[variable]], 64)
		if err != nil {
			continue // nothing was logged
		}
		q := r[column[variable+"_qual"]]
		acted := q != "NULL" && q != "10" || r[column[variable+"_cor"]] == "NULL"
		marks = append(marks, mark{aquarium.At(at), v, acted})
	}
	return marks
}

var riverQuantity = map[string]aquarium.Quantity{"temp": aquarium.Temperature, "ph": aquarium.PH}

// screened is the quality of each reading.
func screened(q aquarium.Quantity, marks []mark) []aquarium.Quality {
	s := New("", aquarium.Tank{Sensors: []aquarium.Sensor{{ID: "x", Quantity: q}}})
	place := map[aquarium.Instant]int{}
	qs := make([]aquarium.Quality, len(marks))
	emit := func(v aquarium.Sample) { qs[place[v.At]] = v.Quality }
	for i, m := range marks {
		place[m.at] = i
		s.Take(aquarium.Sample{Sensor: aquarium.SensorKey{Sensor: "x"}, At: m.at, Value: m.value}, emit)
	}
	s.Flush(marks[len(marks)-1].at.Add(time.Hour*24*365), emit)
	return qs
}

// tally is how a screen did at one variable of a station. Stretches of marked
// readings are events.
type tally struct {
	found, missed, invented int // events
	hit, of, besides        int // readings
}

// stretches are the runs of true, as [from, to).
func stretches(n int, is func(i int) bool) (all [][2]int) {
	for i := 0; i < n; i++ {
		if !is(i) {
			continue
		}
		from := i
		for i < n && is(i) {
			i++
		}
		all = append(all, [2]int{from, i})
	}
	return all
}

// compare counts an event of the technician's as found if a reading of it is
// marked, and a stretch of marks as invented if it neither meets one nor lies
// beside one.
func compare(marks []mark, qs []aquarium.Quality) (y tally) {
	acted := func(i int) bool { return i >= 0 && i < len(marks) && marks[i].acted }
	bad := func(i int) bool { return i >= 0 && i < len(marks) && !qs[i].Judged() }
	any := func(from, to int, is func(int) bool) bool {
		for i := from; i < to; i++ {
			if is(i) {
				return true
			}
		}
		return false
	}
	for _, e := range stretches(len(marks), acted) {
		if any(e[0], e[1], bad) {
			y.found++
		} else {
			y.missed++
		}
	}
	for _, e := range stretches(len(marks), bad) {
		if !any(e[0]-1, e[1]+1, acted) {
			y.invented++
		}
	}
	for i := range marks {
		switch {
		case acted(i) && bad(i):
			y.hit, y.of = y.hit+1, y.of+1
		case acted(i):
			y.of++
		case bad(i):
			y.besides++
		}
	}
	return y
}

// TestRiver holds the screen against what technicians marked by hand in three
// years of rivers, of which it knows nothing but the readings as they came. The
// bounds are what it does today and a little room; what is missed are steps of
// less than a tenth of a pH, what is invented are mostly lone readings a tenth or
// two off that the technicians left as they are.
func TestRiver(t *testing.T) {
	var all tally
	for _, tt := range []struct {
		file, variable           string
		found, invented, besides int // at least; at most; at most
	}{
		{"BlackSmithFork2015.csv", "temp", 11, 1, 5},
		{"BlackSmithFork2015.csv", "ph", 2, 1, 5},
		{"FranklinBasin2014.csv", "temp", 11, 1, 5},
		{"FranklinBasin2014.csv", "ph", 1, 1, 10},
		{"MainStreet2019.csv", "temp", 14, 2, 10},
		{"MainStreet2019.csv", "ph", 6, 4, 15},
	} {
		marks := river(t, tt.file, tt.variable)
		y := compare(marks, screened(riverQuantity[tt.variable], marks))
		t.Logf("%s %s, %d readings: events found %d, missed %d, invented %d; readings marked %d of %d, and %d besides",
			tt.file, tt.variable, len(marks), y.found, y.missed, y.invented, y.hit, y.of, y.besides)
		if y.found < tt.found || y.invented > tt.invented || y.besides > tt.besides {
			t.Errorf("%s %s: want at least %d found, at most %d invented and %d readings besides", tt.file, tt.variable, tt.found, tt.invented, tt.besides)
		}
		all.found, all.missed, all.invented = all.found+y.found, all.missed+y.missed, all.invented+y.invented
	}
	t.Logf("in all: found %d, missed %d, invented %d", all.found, all.missed, all.invented)
}
