package detect

import (
	"time"

	"lentic/collector/aquarium"
)

// service is an hour's work at the tank.
var service = map[string]string{
	"flow-a": "0m:900 60m:900 60m1s:0 110m:0 110m1s:900", "flow-b": "0m:880 60m:880 60m1s:0 110m:0 110m1s:880",
	"ph":    "0m:6.6 61m:6.6 61m10s:8.1 63m:8.1 63m10s:7 70m:7 70m10s:4 78m:4 78m10s:6.6",
	"level": "0m:0 80m:0 95m:-150 98m:-150 108m:0",
}

// Hands at work, undeclared. The level of a hose that has burst looks the same
// for as long as the water only leaves.
var visitStories = []scenario{
	{
		name: "a service: filters off, probe in its buffers, water out and in", every: 10 * time.Second,
		paths: service,
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 120 * m, by: 140 * m},
		},
	},
	{
		name: "a service, seen each minute: what is told of its first minutes returns", every: time.Minute,
		paths: service,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 61 * m, by: 65 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 120 * m, by: 140 * m},
		},
	},
	{
		name: "a water change by hand with the filters running", paths: map[string]string{"level": "0m:0 60m:0 75m:-120 80m:-120 95m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.WaterLoss, after: 60 * m, by: 66 * m, priority: aquarium.High},
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 80 * m, by: 90 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.WaterLoss, after: 80 * m, by: 90 * m},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 110 * m, by: 130 * m},
		},
	},
	{
		name: "the same, declared", journal: []aquarium.Entry{visit(55*m, 115*m)}, paths: service,
		want: []want{
			{event: aquarium.OutOfService, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10e9},
			{event: aquarium.OutOfService, cause: aquarium.FilterStalled, equipment: "b", after: 60 * m, by: 63*m + 10e9},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 110 * m, by: 116 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "b", after: 110 * m, by: 116 * m},
		},
	},
	{
		name: "water goes on leaving after a visit that nobody declared", every: 10 * time.Second, lasts: 3 * h,
		paths: map[string]string{"flow-a": service["flow-a"], "flow-b": service["flow-b"], "ph": service["ph"],
			"level": "0m:0 85m:0 165m:-320"}, // some 220 l/h
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 117 * m, by: 120 * m}, // 40 min after the probe was back
			{event: raisedNow, cause: aquarium.WaterLoss, after: 117 * m, by: 121 * m, priority: aquarium.High},
		},
	},
	{
		name: "water comes in far over its band in a visit that nobody declared", every: 10 * time.Second, lasts: 3 * h,
		paths: map[string]string{"flow-a": service["flow-a"], "flow-b": service["flow-b"], "ph": service["ph"],
			"level": "0m:0 70m:0 90m:40 150m:40"},
		want: []want{
			{event: raisedNow, cause: aquarium.VisitUndeclared, after: 61 * m, by: 65 * m, priority: aquarium.Medium},
			{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 82 * m, by: 86 * m, priority: aquarium.High},
			{event: returnedNow, cause: aquarium.VisitUndeclared, after: 120 * m, by: 140 * m},
		},
	},
	{
		name: "a hose bursts and the probe ends in the air",
		paths: map[string]string{
			"flow-a": "0m:900 60m:900 60m1s:0", "flow-b": "0m:880 60m:880 60m1s:0",
			"level": "0m:0 62m:0 90m:-200", "ph": "0m:6.6 85m:6.6 85m10s:8.4",
		},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63*m + 10e9},
			{event: raisedNow, cause: aquarium.WaterLoss, after: 63 * m, by: 68 * m}, // which says it of the probe too
		},
	},
}
