package wire

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// TestPlainTime holds the short way of reading a time against package time.
func TestPlainTime(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		at := time.UnixMilli(rnd.Int64N(3.1e14) - 6e13).UTC()
		for _, text := range []string{at.Format("2006-01-02T15:04:05Z"), at.Format("2006-01-02T15:04:05.000Z")} {
			want, err := time.Parse(time.RFC3339, text)
			got, ok := plainTime([]byte(text))
			if err != nil || !ok || got != aquarium.At(want) {
				t.Fatalf("%s: got %d, %v; want %d", text, got, ok, aquarium.At(want))
			}
		}
	}
	for _, text := range []string{"2031-02-29T00:00:00Z", "2031-13-01T00:00:00Z", "2031-00-01T00:00:00Z", "2031-01-00T00:00:00Z", "2031-01-01T24:00:00Z",
		"2031-01-01T00:60:00Z", "2031-01-01T00:00:60Z", "2031-01-01 00:00:00Z", "2031-01-01T00:00:00z", "2031-01-01T00:00:00+00:00", "2031-01-01T00:00:00.0Z", "0000-01-01T00:00:00Z", "2031-1--01T00:00:00Z"} {
		if at, ok := plainTime([]byte(text)); ok {
			t.Errorf("%s: got %s", text, at)
		}
	}
	if _, ok := plainTime([]byte("2032-02-29T00:00:00Z")); !ok {
		t.Error("a leap day is refused")
	}
}

// TestPlainDecimal holds the short way of reading a number against strconv.
func TestPlainDecimal(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 50_000 {
		text := strconv.FormatInt(rnd.Int64N(1e15)>>rnd.IntN(50), 10)
		if n := rnd.IntN(len(text)); n > 0 && len(text) < 15 {
			text = text[:n] + "." + text[n:]
		}
		if rnd.IntN(2) == 0 {
			text = "-" + text
		}
		want, err := strconv.ParseFloat(text, 64)
		got, ok := plainDecimal([]byte(text))
		if ok && (err != nil || got != want) || !ok && text != "-0" {
			t.Fatalf("%s: got %v, %v; want %v, %v", text, got, ok, want, err)
		}
	}
	for _, text := range []string{"", "-", ".", "1.", ".5", "1.2.3", "1e5", "+1", " 1", "0x1", "-0", "1234567890123456", "NaN"} {
		if v, ok := plainDecimal([]byte(text)); ok {
			t.Errorf("%q: got %v", text, v)
		}
	}
}

// quotedRows reads all rows with the standard reader of RFC 4180.
func quotedRows(r io.Reader, columns, line int, row func(int, aquarium.Sample) error, bad func(int, error) error) error {
	in := csv.NewReader(r)
	in.ReuseRecord = true
	in.FieldsPerRecord = -1
	for {
		rec, err := in.Read()
		if err == io.EOF {
			return nil
		}
		if parse, ok := errors.AsType[*csv.ParseError](err); ok {
			_, err = csvFields(`"`)
			err = bad(line+parse.StartLine, fmt.Errorf("%w%s", parse.Err, strings.TrimPrefix(err.Error(), csv.ErrQuote.Error())))
		} else {
			at, _ := in.FieldPos(0)
			var s aquarium.Sample
			if s, err = csvRow(rec, columns); err != nil {
				err = bad(line+at, err)
			} else {
				err = row(line+at, s)
			}
		}
		if err != nil {
			return err
		}
	}
}

// TestPlainAsQuoted: a file read line by line gives what the standard reader of
// RFC 4180 gives, line numbers and complaints included, wherever quotes stand.
func TestPlainAsQuoted(t *testing.T) {
	lines := []string{
		"2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.58",
		"2031-03-02T02:14:40.250Z,quillmere-library,atrium,water,-0.5",
		"2031-03-02T03:14:40+01:00,quillmere-library,-,gw1/mains,1",
		"2031-03-02T02:14:40Z,quillmere-library,atrium,ph,6e-1",
		"2031-02-30T02:14:40Z,quillmere-library,atrium,ph,6",
		"2031-03-02T02:14:40Z,Quillmere,atrium,ph,6",
		"2031-03-02T02:14:40Z,quillmere-library,atrium,6",
		"2031-03-02T02:14:40Z,quillmere-library,atrium,ph,six",
		"",
		"2031-03-02T02:14:50Z,quillmere-library,atrium,ph,123456789012345678901",
		`2031-03-02T02:14:30Z,"quillmere-library",atrium,ph,7`,
		"2031-03-02T02:15:30Z,quillmere-library,atrium,ph,6.5",
		`2031-03-02T02:15:30Z,quillmere-library,at"rium,ph,6.5`,
		"2031-03-02T02:16:30Z,quillmere-library,atrium,ph,6.4",
	}
	for _, end := range []string{"\n", "\r\n"} {
		for n := range lines {
			rows := append(append([]string{}, lines[n:]...), lines[:n]...)
			text := strings.Join(rows, end) + end
			read := func(do func(row func(int, aquarium.Sample) error, bad func(int, error) error) error) (said []string) {
				err := do(func(line int, s aquarium.Sample) error { said = append(said, fmt.Sprint(line, s)); return nil },
					func(line int, err error) error { said = append(said, fmt.Sprint(line, err)); return nil })
				if err != nil {
					t.Fatal(err)
				}
				return said
			}
			got := read(func(row func(int, aquarium.Sample) error, bad func(int, error) error) error {
				return ReadCSV(strings.NewReader("time,site,tank,sensor,value"+end+text), row, bad)
			})
			want := read(func(row func(int, aquarium.Sample) error, bad func(int, error) error) error {
				return quotedRows(strings.NewReader(text), 5, 1, row, bad)
			})
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%q from line %d:\ngot  %q\nwant %q", end, n, got, want)
			}
		}
	}
}

// TestCSVQualities: good rows are read the short way, and others as well.
func TestCSVQualities(t *testing.T) {
	const head = "time,site,tank,sensor,value,quality\n"
	const row = "2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.58"
	for _, c := range []struct {
		end, want string
	}{
		{",good", "good"}, {",spike", "spike"}, {`,"good"`, "good"},
		{"", "2: 5 fields: want 6"}, {",", `2: quality ""`}, {",goods", `2: quality "goods"`}, {",x,good", "2: 7 fields: want 6"},
	} {
		rows, bad, err := readAll(t, head+row+c.end+"\n")
		got := strings.Join(bad, "")
		if len(rows) == 1 {
			got = rows[0].Quality.String()
		}
		if err != nil || len(rows)+len(bad) != 1 || !strings.HasPrefix(got, c.want) {
			t.Errorf("%q: got %q, %v; want %q", c.end, got, err, c.want)
		}
	}
}

// TestCSVLinesAlone: a quote that is not closed, or a line without end, costs
// itself, and nothing is held of what comes after.
func TestCSVLinesAlone(t *testing.T) {
	const row = "2031-03-02T02:14:30Z,quillmere-library,atrium,ph,6.58\n"
	const rows = 20_000
	in := &counted{in: io.MultiReader(
		strings.NewReader("time,site,tank,sensor,value\n"+`2031-03-02T02:14:30Z,quillmere-library,"atrium,ph,6.58`+"\n"),
		strings.NewReader(strings.Repeat(row, rows)), strings.NewReader(strings.Repeat("x", 1<<20)+"\n"), strings.NewReader(strings.Repeat(row, rows)))}
	n, most := 0, 0
	var bad []string
	err := ReadCSV(in, func(line int, s aquarium.Sample) error {
		n++
		if most = max(most, in.n-n*len(row)-(len(bad)-1)<<20); s.Value != 6.58 || line != n+1+len(bad) {
			return fmt.Errorf("line %d: got %v", line, s)
		}
		return nil
	}, func(line int, err error) error { bad = append(bad, fmt.Sprint(line, " ", err)); return nil })
	if err != nil || n != 2*rows || len(bad) != 2 {
		t.Fatalf("got %d rows, bad %q, %v; want %d rows and two bad lines", n, bad, err, 2*rows)
	}
	if !strings.HasPrefix(bad[0], "2 ") || !strings.Contains(bad[0], "close a quote") || !strings.HasPrefix(bad[1], "20003 longer than") {
		t.Errorf("got %q", bad)
	}
	if most > 2*longestLine {
		t.Errorf("%d bytes were read before their rows were given", most)
	}
}

// counted counts what is read.
type counted struct {
	in io.Reader
	n  int
}

func (c *counted) Read(b []byte) (int, error) {
	n, err := c.in.Read(b)
	c.n += n
	return n, err
}

// BenchmarkCSV reads rows as they are exported, beside the standard reader.
func BenchmarkCSV(b *testing.B) {
	var text bytes.Buffer
	text.WriteString("time,site,tank,sensor,value\n")
	const rows = 100_000
	at := time.Date(2031, 3, 2, 0, 0, 0, 0, time.UTC)
	for i := range rows {
		fmt.Fprintf(&text, "%s,quillmere-library,atrium,%s,%.2f\n", at.Add(time.Duration(i/12)*10*time.Second).Format(time.RFC3339), []string{"ph", "water", "level"}[i%3], 6.5+float64(i%40)/100)
	}
	none := func(int, aquarium.Sample) error { return nil }
	bad := func(_ int, err error) error { return err }
	for name, read := range map[string]func() error{
		"plain":  func() error { return ReadCSV(bytes.NewReader(text.Bytes()), none, bad) },
		"quoted": func() error { return quotedRows(bytes.NewReader(text.Bytes()[28:]), 5, 1, none, bad) },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := read(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds()/1e6, "Mrows/s")
		})
	}
}
