package wire

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strconv"
	"time"

	"lentic/collector/aquarium"
)

// The header of readings as CSV (RFC 4180). The last column may be left out.
var csvHeader = []string{"time", "site", "tank", "sensor", "value", "quality"}

// ReadCSV reads rows of time,site,tank,sensor,value[,quality], in any order
// and without holding them, and gives each to row with its line number. A row
// that cannot be read is given to bad instead, and costs only itself. The
// error is that of the file: its header, its quoting, its reader; or what row
// or bad returned, which ends the reading. Values are in the first unit of
// their quantity. Ids are checked for their form only.
func ReadCSV(r io.Reader, row func(line int, s aquarium.Sample) error, bad func(line int, err error) error) error {
	head, lines, rest, err := csvHead(r)
	if err != nil {
		return err
	}
	columns, err := csvColumns(head)
	if err != nil {
		return err
	}
	rest, lines, err = plainRows(rest, columns, lines, row, bad)
	if rest == nil || err != nil {
		return err
	}
	return quotedRows(rest, columns, lines, row, bad)
}

// quoting says what a wrong quote has cost: one that is not closed takes the
// lines after it along. before is how many lines were read by another.
func quoting(e *csv.ParseError, before int) error {
	if e.Line > e.StartLine {
		return fmt.Errorf("%w: the quote is not closed and takes all up to line %d along: close it, or write \"\" for a quote", e.Err, before+e.Line)
	}
	return fmt.Errorf("%w: quote fields as RFC 4180 says", e.Err)
}

// csvHead reads the header line, and gives what is behind it.
func csvHead(r io.Reader) (head []string, lines int, rest io.Reader, err error) {
	in := bufio.NewReaderSize(r, plainLine)
	var text []byte
	for len(bytes.TrimRight(text, "\r\n")) == 0 { // empty lines before it are none
		if text, err = in.ReadSlice('\n'); len(text) == 0 && err == io.EOF {
			return nil, 0, nil, fmt.Errorf("line 1: the file is empty: want the header %s", headLine(false))
		}
		if err != nil && err != io.EOF {
			return nil, 0, nil, fmt.Errorf("line 1: %w", err)
		}
		lines++
	}
	if head, err = csv.NewReader(bytes.NewReader(text)).Read(); err != nil {
		return nil, 0, nil, fmt.Errorf("line 1: %w", err)
	}
	return head, lines, in, nil
}

func csvColumns(head []string) (int, error) {
	if len(head) > 0 && len(head[0]) > 3 && head[0][:3] == "\ufeff" {
		head[0] = head[0][3:]
	}
	for n := len(csvHeader) - 1; n <= len(csvHeader); n++ {
		if slices.Equal(head, csvHeader[:n]) {
			return n, nil
		}
	}
	return 0, fmt.Errorf("line 1: the header is %q: want %s, or with quality as a sixth column", head, headLine(false))
}

func headLine(quality bool) string {
	if quality {
		return "time,site,tank,sensor,value,quality"
	}
	return "time,site,tank,sensor,value"
}

func csvRow(rec []string, columns int) (aquarium.Sample, error) {
	var s aquarium.Sample
	if len(rec) != columns {
		return s, fmt.Errorf("%d fields: want %d", len(rec), columns)
	}
	t, err := time.Parse(time.RFC3339, rec[0])
	if err != nil {
		return s, fmt.Errorf("time %q: want RFC 3339, as 2031-03-02T02:14:30Z", cut(rec[0]))
	}
	s.At = aquarium.At(t)
	if year := s.At.Time().Year(); year < 1 || year > 9999 {
		return s, fmt.Errorf("time %q: in UTC its year is %d: want 1 to 9999", cut(rec[0]), year)
	}
	s.Sensor = aquarium.SensorKey{Site: aquarium.SiteID(rec[1]), Tank: aquarium.TankID(rec[2]), Sensor: aquarium.SensorID(rec[3])}
	if err := checkKey(s.Sensor); err != nil {
		return s, err
	}
	v, why := number(rec[4])
	if why != nil {
		return s, fmt.Errorf("value: %w", why)
	}
	s.Value = v
	if columns == len(csvHeader) {
		if s.Quality, err = quality(rec[5]); err != nil {
			return s, err
		}
	}
	return s, nil
}

// checkKey wants ids; a gateway's own readings have the tank - and a sensor
// with a slash.
func checkKey(k aquarium.SensorKey) error {
	if err := aquarium.CheckID(string(k.Site)); err != nil {
		return fmt.Errorf("site: %w", err)
	}
	if k.Tank == aquarium.SiteWide {
		g, item, ok := aquarium.SplitGatewaySensor(k.Sensor)
		if !ok || aquarium.CheckID(string(g)) != nil || aquarium.CheckID(item) != nil {
			return fmt.Errorf("sensor %q: a gateway's reading is <gateway>/<item>", cut(string(k.Sensor)))
		}
		return nil
	}
	if err := aquarium.CheckID(string(k.Tank)); err != nil {
		return fmt.Errorf("tank: %w", err)
	}
	if err := aquarium.CheckID(string(k.Sensor)); err != nil {
		return fmt.Errorf("sensor: %w", err)
	}
	return nil
}

func quality(word string) (aquarium.Quality, error) {
	for q := aquarium.Good; q <= aquarium.Retimed; q++ {
		if q.String() == word {
			return q, nil
		}
	}
	return 0, fmt.Errorf("quality %q: want good, range, spike, frozen, air, electrical or retimed", cut(word))
}

// WriteCSV writes rows as ReadCSV reads them, with their header line and, if
// asked, their quality. Values are written so that reading them gives the very
// same number; times to the millisecond, in UTC. A value that is no finite
// number, or a time outside the years 1 to 9999, is an error.
func WriteCSV(w io.Writer, quality bool, rows iter.Seq[aquarium.Sample]) error {
	out := csv.NewWriter(w)
	columns := len(csvHeader) - 1
	if quality {
		columns++
	}
	if err := out.Write(csvHeader[:columns]); err != nil {
		return err
	}
	for s := range rows {
		t := s.At.Time()
		if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) || t.Year() < 1 || t.Year() > 9999 {
			return fmt.Errorf("sensor %s at %d ms: value %g cannot be written as CSV", s.Sensor, int64(s.At), s.Value)
		}
		rec := [...]string{csvTime(t), string(s.Sensor.Site), string(s.Sensor.Tank), string(s.Sensor.Sensor),
			strconv.FormatFloat(s.Value, 'g', -1, 64), s.Quality.String()}
		if err := out.Write(rec[:columns]); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// csvTime leaves milliseconds out where there are none.
func csvTime(t time.Time) string {
	if t.Nanosecond() == 0 {
		return t.Format("2006-01-02T15:04:05Z07:00")
	}
	return t.Format("2006-01-02T15:04:05.000Z07:00")
}
