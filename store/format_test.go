package store_test

import (
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store"
	"lentic/store/ledger"
	"lentic/store/record"
)

// writeFormat makes testdata/store/format<N>.db anew, once for each number. A
// file that is there is never written over: it stands for what keepers have.
var writeFormat = flag.Bool("write-format", false, "make the database of the present format for testdata/store")

var fixtures = filepath.Join("..", "testdata", "store")

// makeFormat1 is the program that made testdata/store/format1.db on
// 2026-11-25: go test ./store -run TestFormat1 -write-format.
func makeFormat1(t *testing.T, path string) {
	s, err := store.Open(path, store.Options{Writer: "lentic format 1", Reserve: -1, Now: func() time.Time { return format1At.Time() }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	b := aquarium.Batch{Readings: format1Readings(t), Arrived: format1At}
	b.Readings = append(b.Readings, aquarium.Reading{Sensor: b.Readings[0].Sensor, At: b.Readings[0].At, Value: 99, Unit: "pH"})
	b.Aside = []aquarium.Aside{{Reading: aquarium.Reading{Sensor: b.Readings[0].Sensor, At: 86_400_000, Value: 6.6, Unit: "pH"}, Gateway: "gw1", Arrived: format1At}}
	b.Unclaimed = []aquarium.Unclaimed{{Topic: "lentic/quillmere-library/atrium/orp", Payload: []byte("312"), Arrived: format1At}}
	b.Refused = []aquarium.Refusal{{Topic: "lentic/quillmere-library/atrium/ph", Reason: aquarium.ReasonValue, Detail: "NaN is no value", Payload: []byte("NaN"), Arrived: format1At, Source: "gw1"}}
	_, err = s.Append(b, func(tx ledger.Tx, o aquarium.Outcome) error { return tx.Put("marks", "quillmere-library", format1At) })
	if err != nil {
		t.Fatal(err)
	}
}

var format1At = aquarium.At(time.Date(2031, 3, 2, 12, 0, 0, 0, time.UTC))

// format1Readings are the rows of testdata/store/format1.csv.
func format1Readings(t *testing.T) []aquarium.Reading {
	t.Helper()
	f, err := os.Open(filepath.Join(fixtures, "format1.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rs []aquarium.Reading
	for _, row := range rows[1:] {
		at, err := strconv.ParseInt(row[3], 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		v, err := strconv.ParseFloat(row[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		rs = append(rs, aquarium.Reading{
			Sensor: aquarium.SensorKey{Site: aquarium.SiteID(row[0]), Tank: aquarium.TankID(row[1]), Sensor: aquarium.SensorID(row[2])},
			At:     aquarium.Instant(at), Value: v, Unit: aquarium.Unit(row[5]), Retimed: row[6] == "retimed",
		})
	}
	return rs
}

// TestFormat1 opens a file of format 1, as every later version must.
func TestFormat1(t *testing.T) {
	name := filepath.Join(fixtures, "format1.db")
	if *writeFormat && record.Format == 1 {
		if _, err := os.Stat(name); err == nil {
			t.Fatalf("%s is there and stays as it is", name)
		}
		makeFormat1(t, name)
	}
	file, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if len(file) > 100<<10 {
		t.Errorf("%d bytes, want less than 100 KiB", len(file))
	}
	path := filepath.Join(t.TempDir(), "lentic.db")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(path, store.Options{ReadOnly: true}); err == nil || !strings.Contains(err.Error(), "older lentic") {
		t.Errorf("read only: got %v", err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(after, file) {
		t.Error("reading changed the file")
	}
	for _, readOnly := range []bool{false, true} {
		t.Run(fmt.Sprint("read only ", readOnly), func(t *testing.T) {
			s, err := store.Open(path, store.Options{ReadOnly: readOnly, Reserve: -1})
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			checkFormat1(t, s)
		})
	}
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func checkFormat1(t *testing.T, s *store.Store) {
	t.Helper()
	want := map[aquarium.SensorKey][]aquarium.Reading{}
	for _, r := range format1Readings(t) {
		want[r.Sensor] = append(want[r.Sensor], r)
	}
	if got := len(s.Sensors()); got != len(want) {
		t.Errorf("got %d sensors, want %d", got, len(want))
	}
	for k, rs := range want {
		if got := all(t, s, k, 0, format1At*2); !reflect.DeepEqual(got, rs) {
			t.Errorf("%s: got %d readings, want %d, or they differ", k, len(got), len(rs))
		}
	}
	var mark aquarium.Instant
	if err := s.View(func(tx ledger.Tx) error { _, err := tx.Get("marks", "quillmere-library", &mark); return err }); err != nil || mark != format1At {
		t.Errorf("mark: got %s, %v", mark, err)
	}
	c, u, r, a := s.Conflicts(9), s.UnclaimedTopics(), s.Refused(9), s.Asides("quillmere-library")
	if len(c) != 1 || c[0].Other.Value != 99 || c[0].Stands != format1Readings(t)[0] {
		t.Errorf("conflicts: got %+v", c)
	}
	if len(u) != 1 || u[0].Topic != "lentic/quillmere-library/atrium/orp" || string(u[0].Last) != "312" {
		t.Errorf("unclaimed: got %+v", u)
	}
	if len(r) != 1 || r[0].Reason != aquarium.ReasonValue || string(r[0].Payload) != "NaN" || r[0].Source != "gw1" {
		t.Errorf("refused: got %+v", r)
	}
	if len(a) != 1 || a[0].Reading.At != 86_400_000 || a[0].Gateway != "gw1" || a[0].Arrived != format1At {
		t.Errorf("aside: got %+v", a)
	}
	if got, want := s.ID(), 32; len(got) != want {
		t.Errorf("id: got %q", got)
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}
