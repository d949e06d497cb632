package text

import (
	"strings"

	"lentic/collector/aquarium"
)

// otherWords are the causes that doubt what is measured, and lentic's own.
var otherWords = map[aquarium.Cause]words{
	aquarium.SensorSilent:      {sensor("is silent"), silentFor, is("Check cable and power.")},
	aquarium.SensorStuck:       {sensor("stands still"), atValue, is("Check the probe.")},
	aquarium.SensorImplausible: {wrong, atValue, is("Check the probe.")},
	aquarium.SiteSilent:        {is("Nothing is heard from here"), silentFor, is("Ask: power? router?")},
	aquarium.GatewayClockWrong: {func(v view) string { return join("Gateway", v.part(), "has wrong time") }, func(v view) []string {
		if d, ok := duration(v.Evidence.Value, v.Evidence.Unit); ok && v.Evidence.Value != 0 {
			return some("off by " + Span(d))
		}
		return nil
	}, is("Set its clock.")},
	aquarium.UnitSuspect: {sensor("reads in a wrong unit"), atValue, is("Check its unit.")},
	aquarium.Unusual:     {is("Tank behaves as never before"), strays, is(lookFirst)},
	aquarium.VisitUndeclared: {byStop("Somebody works here?", "All filters off: somebody there?"), nil,
		byStop("Ask, declare the visit.", "Ask. Nobody? See to their socket.")},

	aquarium.DiskLow: {is("Disk nearly full"), func(v view) []string {
		return some(v.labelled("left"))
	}, is("Free space on lentic's machine.")},
	aquarium.IntakeLost: {is("No readings can come in"), silentFor, is("Look at broker and network.")},
	aquarium.ConfigurationRefused: {is("New configuration refused"), func(view) []string {
		return []string{"the last good one goes on"}
	}, is("Run lentic check.")},
	aquarium.NobodyReached: {is("No text got through"), nil, is("Run lentic test-text.")},
}

// sensor is a sentence about one sensor.
func sensor(does string) func(view) string {
	return func(v view) string {
		id := v.part()
		if id == "" {
			id = shorten(GSM7(string(v.Evidence.Sensor)), longestPart)
		}
		return join("Sensor", id, does)
	}
}

// byStop tells a visit that its hands show from one that a socket without power may be.
func byStop(hands, stop string) func(view) string {
	return func(v view) string {
		if v.word("doubt") == "hands or socket" {
			return stop
		}
		return hands
	}
}

// wrong tells a sensor that is late from one that is wrong.
func wrong(v view) string {
	if _, late := v.Evidence.Fact("late"); late {
		return sensor("follows too late")(v)
	}
	return sensor("cannot be right")(v)
}

// strays are the sensors that are not as the others let expect, and by how much,
// as far as there is room.
func strays(v view) (ss []string) {
	for _, f := range v.Evidence.Facts {
		if f.Name != "apart" || strings.Trim(Number(f.Value, f.Unit), "+-0.") == "" {
			continue
		}
		way := " +"
		if f.Value < 0 {
			way = " -"
		}
		ss = append(ss, shorten(GSM7(f.Word), longestPart)+way+apart(f.Value, f.Unit))
	}
	if len(ss) > 0 {
		ss[0] = "sensor " + ss[0]
	}
	return ss
}

func atValue(v view) []string { return some(v.value(), v.lasting("for", "for")) }

// silentFor prefers the fact; the value is the last one there was, or how long
// nothing came.
func silentFor(v view) []string {
	if s := v.lasting("for", "silent"); s != "" {
		if v.Evidence.LastKnown && v.has() {
			return some(s, "last "+v.value())
		}
		return []string{s}
	}
	if d, ok := duration(v.Evidence.Value, v.Evidence.Unit); ok && v.Evidence.Value > 0 {
		return []string{"for " + Span(d)}
	}
	return nil
}
