package detect

import (
	"testing"
	"time"

	"lentic/collector/aquarium"
)

// withStores gives the tank a reservoir, a waste container and an automatic change.
func withStores(t *aquarium.Tank) {
	for id, q := range map[aquarium.SensorID]aquarium.Quantity{"store": aquarium.Volume, "refill": aquarium.Switch, "waste": aquarium.Level,
		"waste-pump": aquarium.Switch, "out": aquarium.Switch, "in": aquarium.Switch} {
		t.Sensors = append(t.Sensors, aquarium.Sensor{ID: id, Quantity: q})
	}
	top := *t.Equipment.TopOff
	top.From = "store"
	t.Equipment.TopOff = &top
	t.Equipment.Reservoir = &aquarium.Reservoir{Volume: "store", CapacityL: 180, Refill: "refill", ProductionLH: 70}
	t.Equipment.Drain = &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380, Pump: "waste-pump"}
	t.Equipment.WaterChange = &aquarium.WaterChange{Out: "out", In: "in", Litres: 60, At: []aquarium.WeekTime{{Day: time.Sunday, At: 6 * 60}}}
}

// changed lets the change begin at one.
func changed(t *aquarium.Tank) {
	withStores(t)
	t.Equipment.WaterChange.At[0].At = 60
}

// unswitch takes the switches of all these from the configuration.
func unswitch(t *aquarium.Tank) {
	changed(t)
	t.Equipment.TopOff.Pump, t.Equipment.Reservoir.Refill, t.Equipment.Drain.Pump = "", "", ""
	t.Equipment.WaterChange.Out, t.Equipment.WaterChange.In = "", ""
}

// unseen has stores, and nobody tells of a pump or a refill.
func unseen(t *aquarium.Tank) {
	withStores(t)
	t.Equipment.TopOff.Pump, t.Equipment.Reservoir.Refill = "", ""
}

// floated leaves two floats and a pump to tell of the level.
func floated(t *aquarium.Tank) {
	withStores(t)
	t.Sensors = append(t.Sensors, aquarium.Sensor{ID: "low", Quantity: aquarium.Switch}, aquarium.Sensor{ID: "high", Quantity: aquarium.Switch})
	t.Equipment.TopOff = &aquarium.TopOff{Low: "low", High: "high", Pump: "topoff", RateLH: 90}
}

const (
	failed     = aquarium.TopOffFailed
	lost       = aquarium.WaterLoss
	incomplete = aquarium.WaterChangeIncomplete
)

// A millimetre of this tank is 0.9 l, its top-off takes 4.8 min from end to end.
var vesselStories = []scenario{
	{
		name: "the top-off is not called for", paths: map[string]string{"level": "0m:-3.8 60m:-4 240m:-4.8"},
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 70 * m, by: 240 * m}},
	},
	{
		name: "the top-off is not called for, no switch", gone: []aquarium.SensorID{"topoff"}, paths: map[string]string{"level": "0m:-3.8 60m:-4 60m1s:-6 240m:-6.4"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 64 * m, by: 70*m + 10*time.Second}},
	},
	{
		name: "the level's sensor slips in its holder", every: 10 * time.Second, paths: map[string]string{"level": "0m:-1 60m:-1 60m1s:-13 70m:4 120m:3.8", "topoff": "0m:0 60m:1 70m:0"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "level", after: 80 * m, by: 82 * m}},
	},
	{
		name: "the level's sensor slips, a reading a minute and no switch", gone: []aquarium.SensorID{"topoff"}, paths: map[string]string{"level": "0m:-1 60m:-1 60m1s:-13 70m:4 120m:3.8"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "level", after: 80 * m, by: 82 * m}},
	},
	{
		name: "the level's sensor slips by three centimetres, no switch", every: 10 * time.Second, gone: []aquarium.SensorID{"topoff"}, paths: map[string]string{"level": "0m:-1 60m:-1 60m1s:-31 81m:4 120m:3.8"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.SensorImplausible, equipment: "level", after: 80 * m, by: 82 * m}},
	},
	{
		name: "the top-off is called for and brings nothing", paths: map[string]string{"level": "0m:-3.8 60m:-4 240m:-4.2", "topoff": "0m:0 60m:1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 68*m + 30*time.Second, by: 73 * m}},
	},
	{
		name: "the top-off is called for and brings nothing, and a coarse level flickers", every: 10 * time.Second, paths: map[string]string{"level": "0m:-3.8 60m:-4 70m:-4 70m10s:-2 70m50s:-2 71m:-4 240m:-4.2", "topoff": "0m:0 60m:1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 68*m + 30*time.Second, by: 73 * m}},
	},
	{ // what brought nothing before the gap brings nothing in it
		name: "the top-off brings nothing, and the level's readings have a gap", paths: map[string]string{"level": "0m:-3.8 60m:-4 120m:- 125m:-4.1 240m:-4.2", "topoff": "0m:0 60m:1"}, lasts: 3 * h,
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 68*m + 30*time.Second, by: 73 * m}},
	},
	{
		name: "a line that is nearly blocked, no switch", gone: []aquarium.SensorID{"topoff"}, paths: map[string]string{"level": "0m:-3.8 60m:-4 180m:-2.4"}, lasts: 3 * h,
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 90 * m, by: 150 * m}},
	},
	{
		name: "the top-off comes a little late, no switch", gone: []aquarium.SensorID{"topoff"}, paths: map[string]string{"level": "0m:-3.8 60m:-4.2 66m:4 180m:3.6"}, lasts: 3 * h,
	},
	{
		name: "as much leaks as the top-off brings, no switch", change: unseen, paths: map[string]string{"level": "0m:-2 60m:-2.5 62m:-4.1 100m:-4.1", "store": "0m:150 62m:150 92m:105 120m:105"}, lasts: 85 * m,
		want: []want{{event: raisedNow, cause: aquarium.WaterLoss, after: 66 * m, by: 72 * m}},
	},
	{
		name: "the store is drawn from while the level lies where the top-off comes, no switch", change: unseen,
		paths: map[string]string{"level": "0m:-3.9 62m:-4 120m:-4.1", "store": "0m:150 62m:150 92m:105 120m:105"}, lasts: 85 * m,
	},
	{
		name: "the store is drawn from while the top-off runs", change: withStores,
		paths: map[string]string{"level": "0m:-3 62m:-4 70m:4 85m:4", "topoff": "0m:0 62m:1 70m:0", "store": "0m:150 62m:150 70m:124 85m:124"}, lasts: 85 * m,
	},
	{
		name: "the store is drawn from at the middle of the band, no switch", change: unseen, paths: map[string]string{"level": "0m:-0.4 120m:-0.6", "store": "0m:150 62m:150 76m:129 120m:129"}, lasts: 85 * m,
	},
	{
		// Of 90 l/h that the pump brings 65 come into the store and 25 stay in the tank.
		name: "a leak of 65 l/h while the top-off brings water and the unit fills the store", change: withStores,
		paths: map[string]string{"level": "0m:-3 60m:-3 76m:4.4", "topoff": "0m:0 60m:1 76m:0", "store": "0m:150 60m:150 76m:143.3", "refill": "0m:0 60m:1"}, lasts: 74 * m,
		want: []want{{event: raisedNow, cause: lost, after: 63 * m, by: 70 * m}},
	},
	{
		name: "a worn pump while the unit fills the store", change: withStores,
		paths: map[string]string{"level": "0m:-3 60m:-3 70m:2.5", "topoff": "0m:0 60m:1 70m:0", "store": "0m:150 60m:150 70m:152.5", "refill": "0m:0 60m:1"}, lasts: 67 * m,
	},
	{
		name: "two false echoes in a row, three centimetres down", every: time.Minute, gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:0 60m30s:0 60m31s:-30 62m30s:-30 62m31s:0 120m:0"}, lasts: 2 * h,
	},
	{
		name: "a hose has come off, and a top-off of which nothing tells holds against it", every: 10 * time.Second, gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:1 60m:1 65m:-4 81m:4.5", "flow-a": "0m:900 60m:900 60m1s:0"}, lasts: 78 * m,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 64 * m},
			{event: raisedNow, cause: lost, after: 65 * m, by: 78 * m},
		},
	},
	{
		name: "a bucket is taken out, and a worn top-off of which nothing tells brings it back", gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:1 60m:1 60m1s:-4 75m:4 120m:3.6"}, lasts: 2 * h,
	},
	{
		name: "the stored water has gone", change: withStores, paths: map[string]string{"level": "0m:-3.8 60m:-4 240m:-4.2", "topoff": "0m:0 60m:1", "store": "0m:1 240m:1", "refill": "0m:0"}, lasts: 2 * h,
		want: []want{
			{event: raisedNow, cause: aquarium.ReservoirLow, equipment: "reservoir", after: 4 * m, by: 6*m + 10*time.Second},
			{event: raisedNow, cause: aquarium.ReservoirNotRefilling, equipment: "reservoir", after: 38 * m, by: 45 * m},
			{event: raisedNow, cause: failed, equipment: "top_off", after: 68*m + 30*time.Second, by: 73 * m},
		},
	},
	{
		name: "a low float stays dry", gone: []aquarium.SensorID{"level"}, change: floated, paths: map[string]string{"low": "0m:1 20m:0", "high": "0m:0"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: failed, equipment: "top_off", after: 80*m - 1, by: 81 * m}},
	},
	{
		name: "the top-off is held back while the mains is gone", paths: map[string]string{"level": "0m:-3.8 60m:-4 60m1s:-6 240m:-6.4", "mains": "0m:1 50m:0"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.PowerLost, after: 50*m - 1, by: 53 * m}},
	},
	{
		name: "twenty litres an hour leak", paths: map[string]string{"level": "0m:2 60m:1.9 120m:-20"}, lasts: 80 * m,
		want: []want{{event: raisedNow, cause: lost, after: 62 * m, by: 75 * m}},
	},
	{
		name: "twenty litres an hour leak and the top-off makes them good", gone: []aquarium.SensorID{"topoff"},
		paths: map[string]string{"level": "0m:-2.9 60m:-3 62m:-4 68m:4 90m:-4 96m:4 110m:-1"}, lasts: 100 * m,
		want: []want{{event: raisedNow, cause: lost, after: 62 * m, by: 80 * m}},
	},
	{
		name: "a litre a minute leaks and the top-off makes it good",
		paths: map[string]string{"level": "0m:1.4 60m:1 3762s:-2 4194s:2 4410s:-2 4842s:2 5058s:-2 5490s:2 5706s:-2 6138s:2 6354s:-2 6786s:2 7002s:-2 7434s:2 7650s:-2 8082s:2",
			"topoff": "0m:0 3762s:1 4194s:0 4410s:1 4842s:0 5058s:1 5490s:0 5706s:1 6138s:0 6354s:1 6786s:0 7002s:1 7434s:0 7650s:1 8082s:0"},
		lasts: 100 * m,
		want: []want{ // the pump has run twice what it should: until more is known it may be that
			{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 65 * m, by: 70 * m},
			{event: returnedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 70 * m, by: 73 * m},
			{event: raisedNow, cause: lost, after: 70 * m, by: 80 * m},
		},
	},
	{
		name: "a hose bursts and its filter stands still", paths: map[string]string{"level": "0m:2 60m:2 90m:-165", "flow-a": "0m:900 60m:900 60m1s:0"}, lasts: 70 * m,
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: raisedNow, cause: lost, after: 61 * m, by: 66 * m, priority: aquarium.High},
		},
	},
	{
		name: "the filters stop and their hoses take three litres", paths: map[string]string{"level": "0m:2 60m:2 60m40s:-1.3 70m:-1.3 70m40s:2", "flow-a": "0m:900 60m:900 60m1s:0 70m:0 70m1s:900", "flow-b": "0m:900 60m:900 60m1s:0 70m:0 70m1s:900"},
		want: []want{
			{event: raisedNow, cause: aquarium.FilterStalled, equipment: "a", after: 60 * m, by: 63 * m},
			{event: returnedNow, cause: aquarium.FilterStalled, equipment: "a", after: 70 * m, by: 73*m + 10*time.Second},
		},
	},
	{
		name: "hands make waves for a minute", every: 10 * time.Second,
		paths: map[string]string{"level": "0m:-2 60m:-2 60m10s:5 60m20s:5 60m30s:18 60m40s:16 60m50s:-1 61m:-19 61m10s:-22 61m20s:-2"},
	},
	{
		name: "a stone is taken out", paths: map[string]string{"level": "0m:2 60m:2 60m1s:-2"},
	},
	{
		name: "somebody declared takes water out and lets it in", journal: []aquarium.Entry{visit(50*m, 150*m)},
		paths: map[string]string{"level": "0m:0 60m:0 80m:-200 90m:-200 120m:0"},
	},
	{
		name: "somebody declared pours a bucket in", journal: []aquarium.Entry{visit(50*m, 80*m)},
		paths: map[string]string{"level": "0m:2 60m:2 70m:14 240m:13.5"},
	},
	{
		name: "a change of water as every week", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 90m30s:0", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 90m30s:0"}, lasts: 3 * h,
	},
	{
		name: "a change of water as every week, no switches", change: unswitch,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 90m30s:0"}, lasts: 3 * h,
	},
	{
		name: "no new water comes", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 180m:-66", "out": "0m:0 60m:1 75m:0", "in": "0m:0"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: incomplete, equipment: "water_change", after: 83 * m, by: 86*m + 10*time.Second}},
	},
	{
		name: "no new water comes, and the top-off tries", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 115m:0", "out": "0m:0 60m:1 75m:0", "in": "0m:0", "topoff": "0m:0 75m:1 115m:0"}, lasts: 100 * m,
		want: []want{{event: raisedNow, cause: incomplete, equipment: "water_change", after: 83 * m, by: 86*m + 10*time.Second}},
	},
	{
		name: "no new water comes, no switches", change: unswitch, paths: map[string]string{"level": "0m:0 60m:0 75m:-66 180m:-66"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: incomplete, equipment: "water_change", after: 88 * m, by: 91*m + 10*time.Second}},
	},
	{
		name: "new water stops half-way and is let in by hand", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 80m:-44 130m:-44 140m:0", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 80m:0"}, lasts: 160 * m,
		want: []want{
			{event: raisedNow, cause: incomplete, equipment: "water_change", after: 88 * m, by: 91*m + 10*time.Second},
			{event: returnedNow, cause: incomplete, equipment: "water_change", after: 130 * m, by: 146 * m},
		},
	},
	{
		name: "new water stops half-way, and the top-off makes it good", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 81m:-36 88m:-1 140m:-1", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 81m:0", "topoff": "0m:0 81m30s:1 88m:0"}, lasts: 140 * m,
		want: []want{
			{event: raisedNow, cause: incomplete, equipment: "water_change", after: 90 * m, by: 92 * m},
			{event: returnedNow, cause: incomplete, equipment: "water_change", after: 92 * m, by: 100 * m},
		},
	},
	{
		name: "new water comes in two goes", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 75m:-66 75m30s:-66 83m:-20 90m:-20 94m:0", "out": "0m:0 60m:1 75m:0", "in": "0m:0 75m30s:1 83m:0 90m:1 94m:0"}, lasts: 140 * m,
	},
	{
		name: "the change does not stop letting water out", change: changed,
		paths: map[string]string{"level": "0m:0 60m:0 90m:-132", "out": "0m:0 60m:1"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: incomplete, equipment: "water_change", after: 75 * m, by: 85 * m}},
	},
	{
		name: "no new water comes, floats only", gone: []aquarium.SensorID{"level"}, change: floated, paths: map[string]string{"low": "0m:1 61m:0", "high": "0m:0", "out": "0m:0 60m:1 75m:0", "in": "0m:0"}, lasts: 100 * m,
		want: []want{{event: raisedNow, cause: incomplete, equipment: "water_change", after: 84 * m, by: 86*m + 10*time.Second}},
	},
	{
		name: "a hose leaks while the top-off runs from a store that is being refilled", change: withStores,
		paths: map[string]string{"level": "0m:-3 60m:-3 62m30s:-3.7 73m:-2", "topoff": "0m:0 62m30s:1", "store": "0m:120 62m30s:120 73m:108.5", "refill": "0m:0 50m:1"}, lasts: 73 * m,
		want: []want{{event: raisedNow, cause: lost, after: 60 * m, by: 70 * m}},
	},
	{
		name: "a hose takes what the top-off brings, of which only floats tell", change: func(t *aquarium.Tank) { floated(t); t.Equipment.TopOff.From = "store" },
		paths: map[string]string{"low": "0m:1 60m:0", "high": "0m:0", "level": "0m:-3", "topoff": "0m:0 60m30s:1", "store": "0m:120 60m30s:120 80m:90", "refill": "0m:0 65m:1"}, lasts: 70 * m,
		want: []want{{event: raisedNow, cause: lost, after: 61 * m, by: 66 * m}},
	},
	{ // the pump runs for longer than it should, and the leak says why
		name: "a hose takes what the top-off brings, for half an hour", change: func(t *aquarium.Tank) { floated(t); t.Equipment.TopOff.From = "store" },
		paths: map[string]string{"low": "0m:1 60m:0", "high": "0m:0", "level": "0m:1", "topoff": "0m:0 60m30s:1", "store": "0m:120 60m30s:120 90m:75", "refill": "0m:0"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: lost, after: 61 * m, by: 66 * m}},
	},
	{
		name: "water runs in by a level that no machine goes by", change: floated,
		paths: map[string]string{"low": "0m:1", "high": "0m:0", "level": "0m:0 60m:0 90m:11"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 61 * m, by: 70 * m}},
	},
	{
		name: "the pump's relay is welded", every: 10 * time.Second,
		paths: map[string]string{"level": "0m:3.3 60m:3.2 80m:30"}, lasts: 75 * m,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 61 * m, by: 63*m + 40*time.Second}},
	},
	{
		name: "the store runs out", change: withStores, paths: map[string]string{"store": "0m:30 60m:20 120m:16", "refill": "0m:0"}, lasts: 100 * m,
		want: []want{{event: raisedNow, cause: aquarium.ReservoirLow, equipment: "reservoir", after: 90 * m, by: 105 * m}},
	},
	{
		name: "the top-off floods and takes the store with it", change: withStores,
		paths: map[string]string{"store": "0m:84 60m:84 113m:4 120m:4", "refill": "0m:0", "level": "0m:-3.8 60m:-4 65m:4 90m:40", "topoff": "0m:0 60m:1"}, lasts: 2 * h,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 65 * m, by: 68*m + 10*time.Second}},
	},
	{
		// 36 l at 70 l/h take 31 min.
		name: "the store is filled", change: withStores, paths: map[string]string{"store": "0m:144 60m:144 91m:180", "refill": "0m:0 60m:1 91m:0"},
	},
	{
		name: "the refill is called for and nothing comes", change: withStores, paths: map[string]string{"store": "0m:144", "refill": "0m:0 60m:1"},
		want: []want{{event: raisedNow, cause: aquarium.ReservoirNotRefilling, equipment: "reservoir", after: 65 * m, by: 122 * m}},
	},
	{
		name: "the refill brings half", change: withStores, paths: map[string]string{"store": "0m:144 60m:144 122m:180", "refill": "0m:0 60m:1 122m:0"},
		want: []want{
			{event: raisedNow, cause: aquarium.ReservoirNotRefilling, equipment: "reservoir", after: 65 * m, by: 122 * m},
			{event: returnedNow, cause: aquarium.ReservoirNotRefilling, equipment: "reservoir", after: 115 * m, by: 135 * m},
		},
	},
	{
		name: "the store is past full", change: withStores, paths: map[string]string{"store": "0m:144 31m:180 61m:215", "refill": "0m:1"}, lasts: h,
		want: []want{{event: raisedNow, cause: aquarium.ReservoirOverfull, equipment: "reservoir", after: 31 * m, by: 41 * m}},
	},
	{
		name: "the store is past full, no switch", change: unswitch, paths: map[string]string{"store": "0m:144 31m:180 61m:215"}, lasts: h,
		want: []want{{event: raisedNow, cause: aquarium.ReservoirOverfull, equipment: "reservoir", after: 31 * m, by: 41 * m}},
	},
	{
		name: "the refill goes on and no volume tells", change: withStores, paths: map[string]string{"refill": "0m:0 10m:1"}, lasts: 4 * h,
		want: []want{{event: raisedNow, cause: aquarium.ReservoirOverfull, equipment: "reservoir", after: 180 * m, by: 210 * m}},
	},
	{
		name: "somebody filled the store by a bucket too much", change: withStores, paths: map[string]string{"store": "0m:175 60m:175 62m:184 240m:184", "refill": "0m:0"},
	},
	{
		name: "the waste is pumped out", change: withStores, paths: map[string]string{"waste": "0m:200 60m:250 62m50s:60 240m:120", "waste-pump": "0m:0 60m:1 62m50s:0"},
	},
	{
		name: "the waste pump begins in a gap, in which the container has filled", change: withStores, every: 10 * time.Second,
		paths: map[string]string{"waste": "0m:150 50m:192 50m10s:- 55m:240 62m10s:60 240m:120", "waste-pump": "0m:0 50m10s:- 55m:1 62m10s:0"}, lasts: 90 * m,
	},
	{
		name: "the waste pump runs and the level stays", change: withStores, paths: map[string]string{"waste": "0m:240 60m:250 120m:260", "waste-pump": "0m:0 60m:1"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 60 * m, by: 63*m + 10*time.Second}},
	},
	{
		name: "the waste pump never comes", change: withStores, paths: map[string]string{"waste": "0m:240 50m:250 60m:262 120m:270", "waste-pump": "0m:0"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 52*m - aquarium.Step, by: 54 * m}},
	},
	{
		name: "the waste pump never comes, no switch", change: unswitch, paths: map[string]string{"waste": "0m:240 50m:250 60m:262 120m:270"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 52*m - aquarium.Step, by: 54 * m}},
	},
	{
		name: "the waste pump does not come while mains is out, nor at once", change: unswitch, every: 10 * time.Second,
		paths: map[string]string{"waste": "0m:240 50m:248 60m:262 80m:262 81m:100 120m:110", "mains": "0m:1 40m:0 77m:1"}, lasts: 120 * m,
		want: []want{
			{event: raisedNow, cause: aquarium.PowerLost, after: 40 * m, by: 43 * m},
			{event: aquarium.Suppressed, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 52 * m, by: 55 * m},
			{event: aquarium.Returned, cause: aquarium.PowerLost, after: 77 * m, by: 79 * m},
			{event: aquarium.Returned, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 80 * m, by: 83 * m},
		},
	},
	{
		name: "the top-off is held on by a float that hangs, and the tank runs over", paths: map[string]string{"level": "0m:-1 60m:-1 110m:25 240m:25", "topoff": "0m:0 60m:1 110m:0 113m:1 130m:0 133m:1 180m:0"}, lasts: 180 * m,
		want: []want{{event: raisedNow, cause: aquarium.TopOffRunaway, equipment: "top_off", after: 60 * m, by: 75 * m}},
	},
	{
		name: "more pours into the waste than its pump takes", change: withStores, paths: map[string]string{"waste": "0m:100 60m:100 61m30s:250 64m:400 90m:400", "waste-pump": "0m:0 61m30s:1"}, lasts: 90 * m,
		want: []want{{event: raisedNow, cause: aquarium.DrainOverflow, equipment: "drain", after: 60 * m, by: 63 * m}},
	},
	{
		name: "an automatic change fills the waste as fast, and its pump meets it", change: changed, every: 10 * time.Second,
		paths: map[string]string{
			"level": "0m:0 60m:0 64m:-36 68m:0 120m:0", "out": "0m:0 60m:1 64m:0", "in": "0m:0 64m:1 68m:0",
			"waste": "0m:70 60m:70 64m:250 65m:60 120m:60", "waste-pump": "0m:0 64m:1 65m:0",
		}, lasts: 90 * m,
	},
	{
		// 8 mm a minute: the rim is reached at 66 min.
		name: "the waste pump never comes, read once a minute", every: m, change: unswitch, paths: map[string]string{"waste": "0m:240 49m20s:240 59m20s:260"}, lasts: 60 * m,
		want: []want{{event: raisedNow, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 55 * m, by: 57*m + 10*time.Second}},
	}, {
		name: "the waste nears its rim", change: withStores, paths: map[string]string{"waste": "0m:200 50m:250 66m15s:380", "waste-pump": "0m:0 50m:1"}, lasts: 65 * m,
		want: []want{
			{event: raisedNow, cause: aquarium.DrainPumpFailed, equipment: "drain", after: 50 * m, by: 53*m + 10*time.Second},
			{event: raisedNow, cause: aquarium.DrainOverflow, equipment: "drain", after: 57 * m, by: 61*m + 15*time.Second},
		},
	},
}

// TestLevelNoMachineGoesBy: how much a tank's level scatters by itself is known of it,
// whatever the top-off goes by.
func TestLevelNoMachineGoesBy(t *testing.T) {
	site := library()
	floated(&site.Tanks[0])
	if w := New(site); w.tanks[0].level == nil || !w.tanks[0].level.waters {
		t.Error("nobody follows it")
	}
}
