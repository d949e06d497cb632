package wire

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// The header of readings as CSV (RFC 4180). The last column may be left out.
var csvHeader = []string{"time", "site", "tank", "sensor", "value", "quality"}

// ReadCSV reads rows of time,site,tank,sensor,value[,quality], in any order
// and without holding them, and gives each to row with its line number. A row
// that cannot be read is given to bad instead, and costs only itself: none goes
// over a line's end, for nothing that stands in one may have such, so a quote
// that is not closed takes nothing along. The error is that of the file: its
// header, its reader; or what row or bad returned, which ends the reading. Values
// are in the first unit of their quantity. Ids are checked for their form only.
func ReadCSV(r io.Reader, row func(line int, s aquarium.Sample) error, bad func(line int, err error) error) error {
	head, lines, rest, err := csvHead(r)
	if err != nil {
		return err
	}
	columns, err := csvColumns(head)
	if err != nil {
		return err
	}
	return csvRows(rest, columns, lines, row, bad)
}

// longestLine bounds a line: it is read as a whole.
const longestLine = 64 << 10

// csvRows reads the lines behind the header; line is how many there were.
func csvRows(r io.Reader, columns, line int, row func(int, aquarium.Sample) error, bad func(int, error) error) error {
	in := bufio.NewReaderSize(r, longestLine)
	keys := plainKeys{known: map[string]*plainSensor{}, last: &plainSensor{}}
	for {
		text, err := in.ReadSlice('\n')
		if len(text) == 0 && err == io.EOF {
			return nil
		}
		long := false
		for err == bufio.ErrBufferFull {
			long = true
			_, err = in.ReadSlice('\n')
		}
		if err != nil && err != io.EOF {
			return err
		}
		line++
		text = bytes.TrimSuffix(bytes.TrimSuffix(text, []byte("\n")), []byte("\r"))
		if len(text) == 0 {
			continue
		}
		var s aquarium.Sample
		if long {
			err = fmt.Errorf("longer than %d bytes: want %s", longestLine, headLine(columns == len(csvHeader)))
		} else {
			s, err = keys.row(text, columns)
		}
		if err != nil {
			err = bad(line, err)
		} else {
			err = row(line, s)
		}
		if err != nil {
			return err
		}
	}
}

// csvFields takes a line apart as RFC 4180 has it.
func csvFields(text string) ([]string, error) {
	if !strings.Contains(text, `"`) {
		return strings.Split(text, ","), nil
	}
	rec, err := csv.NewReader(strings.NewReader(text)).Read()
	if parse, ok := errors.AsType[*csv.ParseError](err); ok {
		return nil, fmt.Errorf("%w: close a quote on its line, and write \"\" for one within, as RFC 4180 says", parse.Err)
	}
	return rec, err
}

// csvHead reads the header line, and gives what is behind it.
func csvHead(r io.Reader) (head []string, lines int, rest io.Reader, err error) {
	in := bufio.NewReaderSize(r, longestLine)
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
