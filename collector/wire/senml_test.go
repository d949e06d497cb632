package wire

import (
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

type vector struct {
	ID       string          `json:"id"`
	Pack     json.RawMessage `json:"pack"`
	Now      float64         `json:"resolved_with_now"`
	CBOR     string          `json:"cbor_hex"`
	Names    []string        `json:"resolved_names"`
	Times    []float64       `json:"resolved_t"`
	Resolved []struct {
		N, U string
		T, V float64
	} `json:"resolved"`
}

// TestSenMLVectors holds the parser against the packs of RFC 8428, section 5
// and 6, in JSON and CBOR: names and units exact, times to 1e-6 s, values the
// same double.
func TestSenMLVectors(t *testing.T) {
	raw, err := os.ReadFile("testdata/senml_vectors.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Vectors []vector }
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	for _, v := range file.Vectors {
		t.Run("JSON "+v.ID, func(t *testing.T) { v.check(t, v.Pack) })
		if v.CBOR == "" {
			continue
		}
		packed, err := hex.DecodeString(v.CBOR)
		if err != nil {
			t.Fatal(err)
		}
		t.Run("CBOR "+v.ID, func(t *testing.T) { v.check(t, packed) })
	}
}

func (v *vector) check(t *testing.T, payload []byte) {
	t.Helper()
	got, why := parsePack(payload)
	if why != nil {
		t.Fatal(why)
	}
	// RFC 8428, section 4.5.3: below 2^28 a time counts from now.
	at := func(r *record) float64 {
		if r.time < 1<<28 {
			return v.Now + r.time
		}
		return r.time
	}
	if n := max(len(v.Resolved), len(v.Names), len(v.Times)); n == 0 || len(got) != n {
		t.Fatalf("%d records, want %d", len(got), n)
	}
	for i, want := range v.Resolved {
		r := &got[i]
		if r.err != nil || r.kind != numeric || string(r.name) != want.N || string(r.unit) != want.U || r.value != want.V || math.Abs(at(r)-want.T) > 1e-6 {
			t.Errorf("record %d: %+v, want %+v", i, r, want)
		}
	}
	for i, want := range v.Names {
		if string(got[i].name) != want {
			t.Errorf("record %d: name %q, want %q", i, got[i].name, want)
		}
	}
	for i, want := range v.Times {
		if math.Abs(at(&got[i])-want) > 1e-6 {
			t.Errorf("record %d: time %v, want %v", i, at(&got[i]), want)
		}
	}
}

// TestSenMLUnits: the units that are both registered (RFC 8428, RFC 8798) and
// ours are spelt as registered, and their factors agree.
func TestSenMLUnits(t *testing.T) {
	raw, err := os.ReadFile("testdata/senml_units.csv")
	if err != nil {
		t.Fatal(err)
	}
	in := csv.NewReader(strings.NewReader(string(raw)))
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	registered := map[string]bool{}
	for _, row := range rows[1:] {
		registered[row[1]] = true
	}
	// What the registry does not have is a UCUM code.
	ucum := map[aquarium.Unit]bool{"[degF]": true, "[in_i]": true, "[gal_us]": true, "[gal_br]": true, "l/h": true,
		"l/min": true, "[gal_us]/h": true, "uS/cm": true, "mS/cm": true, "g": true, "kPa": true, "": true}
	for _, q := range aquarium.Quantities() {
		for _, u := range q.Units() {
			if registered[string(u)] == ucum[u] {
				t.Errorf("%s of %s: registered %v, a UCUM code %v", u, q, registered[string(u)], ucum[u])
			}
		}
	}
	for _, tt := range []struct {
		q    aquarium.Quantity
		unit aquarium.Unit
		want float64
	}{
		{aquarium.Level, "m", 1000}, {aquarium.Level, "cm", 10}, {aquarium.Power, "kW", 1000},
		{aquarium.Flow, "l/s", 3600}, {aquarium.Conductivity, "S/m", 10000}, {aquarium.Pressure, "hPa", 0.1},
	} {
		if got, err := tt.q.Convert(1, tt.unit); err != nil || math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("1 %s of %s: %v, %v, want %v", tt.unit, tt.q, got, err, tt.want)
		}
	}
}

func unhex(s string) string {
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		panic(fmt.Sprintf("%q: %v", s, err))
	}
	return string(b)
}

// TestSenMLNumbers: CBOR may write a number in any width (RFC 8428, section 6).
func TestSenMLNumbers(t *testing.T) {
	for _, tt := range []struct {
		name, v string
		want    float64
	}{
		{"integer", "18 64", 100},
		{"negative integer", "38 63", -100},
		{"half", "f9 3e00", 1.5},
		{"single", "fa 47c35000", 100000},
		{"double", "fb 3ff199999999999a", 1.1},
		{"decimal fraction", "c4 82 21 19 6ab3", 273.15}, // RFC 8949, section 3.4.4
	} {
		t.Run(tt.name, func(t *testing.T) {
			rs, why := parsePack([]byte(unhex("81 a2 00 61 61 02" + tt.v)))
			if why != nil || len(rs) != 1 || rs[0].err != nil || rs[0].value != tt.want {
				t.Errorf("got %+v, %v, want %v", rs, why, tt.want)
			}
		})
	}
	for _, pack := range []string{"9f a2 00 61 61 02 01 ff", "d9d9f7 81 a2 00 61 61 02 01"} {
		if rs, why := parsePack([]byte(unhex(pack))); why != nil || len(rs) != 1 || rs[0].value != 1 {
			t.Errorf("pack % x: %+v, %v", unhex(pack), rs, why)
		}
	}
}
