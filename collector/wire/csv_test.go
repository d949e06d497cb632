package wire

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

func readAll(t *testing.T, text string) (rows []aquarium.Sample, bad []string, err error) {
	t.Helper()
	err = ReadCSV(strings.NewReader(text),
		func(_ int, s aquarium.Sample) error { rows = append(rows, s); return nil },
		func(line int, err error) error { bad = append(bad, fmt.Sprintf("%d: %v", line, err)); return nil })
	return rows, bad, err
}

// What is written is what is read, whatever the value and the millisecond.
func TestCSVThereAndBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var want []aquarium.Sample
	for range 2000 {
		v := math.Float64frombits(r.Uint64())
		if math.IsNaN(v) || math.IsInf(v, 0) {
			v = r.NormFloat64()
		}
		k := key(aquarium.SensorID(fmt.Sprintf("s%d", r.IntN(50))))
		if r.IntN(10) == 0 {
			k = own("mains")
		}
		want = append(want, aquarium.Sample{Sensor: k, At: aquarium.Instant(r.Int64N(4e12)), Value: v, Quality: aquarium.Quality(r.IntN(7))})
	}
	var b bytes.Buffer
	if err := WriteCSV(&b, true, slices.Values(want)); err != nil {
		t.Fatal(err)
	}
	got, bad, err := readAll(t, b.String())
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	if !slices.Equal(got, want) {
		t.Error("what was read is not what was written")
	}
}

func TestCSVAsWritten(t *testing.T) {
	rows := []aquarium.Sample{
		{Sensor: key("ph"), At: arrived, Value: 6.58},
		{Sensor: key("ph"), At: arrived.Add(250 * time.Millisecond), Value: 1e21, Quality: aquarium.OutOfRange},
	}
	for _, tt := range []struct {
		quality bool
		want    string
	}{
		{false, "time,site,tank,sensor,value\n2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.58\n2031-03-02T02:14:30.250Z,quillmere-library,atrium,ph,1e+21\n"},
		{true, "time,site,tank,sensor,value,quality\n2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.58,good\n2031-03-02T02:14:30.250Z,quillmere-library,atrium,ph,1e+21,range\n"},
	} {
		var b strings.Builder
		if err := WriteCSV(&b, tt.quality, slices.Values(rows)); err != nil || b.String() != tt.want {
			t.Errorf("wrote %q, %v, want %q", b.String(), err, tt.want)
		}
	}
	if err := WriteCSV(&strings.Builder{}, false, slices.Values([]aquarium.Sample{{Value: math.NaN()}})); err == nil {
		t.Error("NaN was written")
	}
}

func TestCSVBadRows(t *testing.T) {
	const head = "time,site,tank,sensor,value\n"
	const good = "2031-03-02T02:14:30+01:00,quillmere-library,atrium,ph,6.58\n"
	for _, tt := range []struct{ name, row, want string }{
		{"a time without its zone", "2031-03-02T02:14:30,q,a,ph,1", `2: time "2031-03-02T02:14:30": want RFC 3339`},
		{"a comma in the value", `2031-03-02T02:14:30Z,q,a,ph,"6,5"`, "2: value: 6,5 has a comma: write 6.5"},
		{"NaN", "2031-03-02T02:14:30Z,q,a,ph,NaN", "2: value: NaN is no value"},
		{"an id", "2031-03-02T02:14:30Z,q,A,ph,1", `2: tank: id "A": character 'A' at position 1`},
		{"a field too few", "2031-03-02T02:14:30Z,q,a,ph", "2: 4 fields: want 5"},
		{"a quote", `2031-03-02T02:14:30Z,q,a,p"h,1`, "2: "},
	} {
		t.Run(tt.name, func(t *testing.T) {
			rows, bad, err := readAll(t, head+tt.row+"\n"+good)
			if err != nil || len(rows) != 1 || len(bad) != 1 || !strings.HasPrefix(bad[0], tt.want) {
				t.Errorf("rows %v, bad %q, error %v, want one row and %q", rows, bad, err, tt.want)
			}
		})
	}
	for _, text := range []string{"", "time;site\n", "site,tank\n"} {
		if _, _, err := readAll(t, text); err == nil || !strings.Contains(err.Error(), "line 1: ") || !strings.Contains(err.Error(), "want") {
			t.Errorf("%q: error %v, want the header asked for", text, err)
		}
	}
}

func FuzzCSV(f *testing.F) {
	f.Add("time,site,tank,sensor,value\n2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.58\n")
	f.Add("time,site,tank,sensor,value,quality\n2031-03-02T02:14:30.5Z,q,-,gw1/mains,1,good\n")
	f.Fuzz(func(t *testing.T, text string) {
		var rows []aquarium.Sample
		_ = ReadCSV(strings.NewReader(text),
			func(_ int, s aquarium.Sample) error { rows = append(rows, s); return nil },
			func(int, error) error { return nil })
		var b strings.Builder
		if err := WriteCSV(&b, true, slices.Values(rows)); err != nil {
			t.Fatal(err)
		}
		again, bad, err := readAll(t, b.String())
		if err != nil || len(bad) > 0 || !slices.Equal(again, rows) {
			t.Errorf("%v became %v (%v, %v)", rows, again, bad, err)
		}
	})
}
