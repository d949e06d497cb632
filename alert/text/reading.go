package text

import (
	"strings"

	"lentic/collector/aquarium"
)

// reading is the value against what it should be and what it is held against:
// "pH 5.98, should be 6.60, 0.62 under it".
func (v view) reading() string {
	e := v.Evidence
	if _, span := duration(0, e.Unit); !v.has() || e.Unit == "" || span {
		return ""
	}
	s := join(v.label(), written(e.Value, e.Unit))
	if e.LastKnown {
		s = "last known " + s
	}
	if v.depthOf() {
		s = strings.Replace(s, "+", "", 1)
	}
	if should := v.should(); should != "" {
		s += ", " + should
	}
	if e.Limit != nil && v.ahead() == 0 && (e.Expected == nil || v.bare(*e.Expected) != v.bare(*e.Limit)) && v.Projected == 0 {
		s += ", limit " + v.bare(*e.Limit)
	}
	return s
}

// should is what the value should be and how far off it is.
func (v view) should() string {
	x := v.Evidence.Expected
	switch {
	case x == nil:
		return ""
	case !atMost[v.Cause]:
		return "should be " + v.bare(*x) + v.missed(*x)
	case v.Evidence.Value > *x:
		return "should be at most " + v.bare(*x) + v.missed(*x)
	}
	return "should be at most " + v.bare(*x)
}

// atMost are the causes of water that may stand at any height under what is
// expected: being told of a rise, nobody asks for more.
var atMost = map[aquarium.Cause]bool{aquarium.TopOffRunaway: true, aquarium.DrainOverflow: true, aquarium.ReservoirOverfull: true}

// labels say what is read where the unit alone does not.
var labels = map[aquarium.Unit]string{"mm": "level", "l/h": "flow", "mg/l": "CO2 about", "ppm": "CO2 in the air", "l": "stored"}

func (v view) label() string {
	switch {
	case v.Cause == aquarium.PHProbeDrift && v.fact("held") != "":
		return "held at"
	case v.Cause == aquarium.PHProbeDrift:
		return "by night"
	case v.Cause == aquarium.Unusual && v.Evidence.Unit != "pH":
		return "sensor " + string(v.Evidence.Sensor)
	}
	return labels[v.Evidence.Unit]
}

// depthOf reports whether the level counts from a bottom, so that it has no sign.
func (v view) depthOf() bool {
	return v.Cause == aquarium.DrainOverflow || v.Cause == aquarium.DrainPumpFailed
}

// bare is a number in the evidence's unit, without it.
func (v view) bare(x float64) string {
	n := Number(x, v.Evidence.Unit)
	if v.depthOf() {
		n = strings.TrimPrefix(n, "+")
	}
	return n
}

// missed is how far the value lies from what it should be; a flow's share says
// more than its litres. Nothing where they read the same.
func (v view) missed(expected float64) string {
	e, side := v.Evidence, "over"
	d := e.Value - expected
	if s, ok := styles[e.Unit]; ok && s.decimals == 0 { // so that the numbers told add up
		d = round(e.Value, s.step) - round(expected, s.step)
	}
	if d < 0 {
		side, d = "under", -d
	}
	much := apart(d, e.Unit)
	if e.Unit == "l/h" {
		if expected <= 0 || Number(e.Value, e.Unit) == "0" {
			return ""
		}
		much = written(100*d/expected, "%")
	}
	if strings.Trim(Number(d, e.Unit), "+0.") == "" {
		return ""
	}
	return ", " + much + " " + side + " it"
}
