package wire

import (
	"bytes"
	"strings"

	"lentic/collector/aquarium"
)

// Rows as WriteCSV makes them are read here without making a string of anything.

// row reads one, the short way where it is plain.
func (k *plainKeys) row(text []byte, columns int) (aquarium.Sample, error) {
	var s aquarium.Sample
	at, raw, value, ok := plainRow(text, columns)
	if ok {
		s.At, s.Value = at, value
		if s.Sensor, ok = k.find(raw); ok {
			return s, nil
		}
	}
	rec, err := csvFields(string(text)) // as anything else, which also says what is wrong
	if err != nil {
		return s, err
	}
	return csvRow(rec, columns)
}

// plainGood is the quality that most rows have.
var plainGood = []byte("," + aquarium.Good.String())

// plainRow takes the most common row apart: a time in UTC, ids, a plain decimal,
// and, where there is a sixth column, good. It is false for every other, right or
// wrong.
func plainRow(text []byte, columns int) (at aquarium.Instant, key []byte, value float64, ok bool) {
	if columns == len(csvHeader) {
		if text, ok = bytes.CutSuffix(text, plainGood); !ok {
			return 0, nil, 0, false
		}
	}
	first, last := bytes.IndexByte(text, ','), bytes.LastIndexByte(text, ',')
	if first < 0 || first == last || bytes.Count(text[first:last], []byte(",")) != 3 {
		return 0, nil, 0, false
	}
	if at, ok = plainTime(text[:first]); !ok {
		return 0, nil, 0, false
	}
	value, ok = plainDecimal(text[last+1:])
	return at, text[first+1 : last], value, ok
}

// plainKeys are the sensors that rows have named. Which one follows which is
// mostly as it was before: messages of many sensors come again and again.
type plainKeys struct {
	known map[string]*plainSensor
	last  *plainSensor
}

type plainSensor struct {
	raw  string
	key  aquarium.SensorKey
	next *plainSensor
}

func (k *plainKeys) find(raw []byte) (aquarium.SensorKey, bool) {
	if string(raw) == k.last.raw {
		return k.last.key, true
	}
	if n := k.last.next; n != nil && string(raw) == n.raw {
		k.last = n
		return n.key, true
	}
	s := k.known[string(raw)]
	if s == nil {
		key, ok := plainKey(raw)
		if !ok {
			return key, false
		}
		s = &plainSensor{raw: string(raw), key: key}
		k.known[s.raw] = s
	}
	k.last.next, k.last = s, s
	return s.key, true
}

func plainKey(raw []byte) (aquarium.SensorKey, bool) {
	parts := strings.Split(string(raw), ",")
	k := aquarium.SensorKey{Site: aquarium.SiteID(parts[0]), Tank: aquarium.TankID(parts[1]), Sensor: aquarium.SensorID(parts[2])}
	return k, checkKey(k) == nil
}

// plainTime reads 2031-03-02T02:14:30Z, and the same with three decimals.
func plainTime(b []byte) (aquarium.Instant, bool) {
	if len(b) != 20 && len(b) != 24 || b[4] != '-' || b[7] != '-' || b[10] != 'T' || b[13] != ':' || b[16] != ':' || b[len(b)-1] != 'Z' {
		return 0, false
	}
	year, ok1 := digits(b[0:4])
	month, ok2 := digits(b[5:7])
	day, ok3 := digits(b[8:10])
	hour, ok4 := digits(b[11:13])
	minute, ok5 := digits(b[14:16])
	second, ok6 := digits(b[17:19])
	if !(ok1 && ok2 && ok3 && ok4 && ok5 && ok6) || year < 1 || month < 1 || month > 12 || day < 1 || day > daysIn(year, month) || hour > 23 || minute > 59 || second > 59 {
		return 0, false
	}
	ms := 0
	if len(b) == 24 {
		if ms, ok1 = digits(b[20:23]); !ok1 || b[19] != '.' {
			return 0, false
		}
	}
	seconds := ((days(year, month, day)*24+hour)*60+minute)*60 + second
	return aquarium.Instant(seconds)*1000 + aquarium.Instant(ms), true
}

func digits(b []byte) (int, bool) {
	n := 0
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}

func leap(year int) bool { return year%4 == 0 && (year%100 != 0 || year%400 == 0) }

func daysIn(year, month int) int {
	switch {
	case month == 2 && leap(year):
		return 29
	case month == 2:
		return 28
	case month == 4 || month == 6 || month == 9 || month == 11:
		return 30
	}
	return 31
}

// daysBefore a month in a year that is no leap year.
var daysBefore = [13]int{0, 0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334}

// days from 1970 to a date of the Gregorian calendar.
func days(year, month, day int) int {
	y := year - 1
	n := 365*y + y/4 - y/100 + y/400 + daysBefore[month] + day - 1
	if month > 2 && leap(year) {
		n++
	}
	const until1970 = 365*1969 + 1969/4 - 1969/100 + 1969/400
	return n - until1970
}

var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// plainDecimal reads a decimal of up to 15 digits. Both sides of the division
// are exact then, so it rounds as strconv does.
func plainDecimal(b []byte) (float64, bool) {
	negative := len(b) > 0 && b[0] == '-'
	if negative {
		b = b[1:]
	}
	whole, point, n := len(b), 0, 0
	for i, c := range b {
		switch {
		case c >= '0' && c <= '9':
			n = n*10 + int(c-'0')
		case c == '.' && whole == len(b) && i > 0 && i+1 < len(b):
			whole, point = i, 1
		default:
			return 0, false
		}
	}
	if len(b) == 0 || len(b)-point > 15 || negative && n == 0 {
		return 0, false
	}
	v := float64(n)
	if point > 0 {
		v /= powers[len(b)-whole-1]
	}
	if negative {
		v = -v
	}
	return v, true
}
