package column_test

import (
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"lentic/collector/aquarium"
	"lentic/collector/sim"
	"lentic/store/column"
)

// The columns that sizes and speeds are measured on: twelve hours of a
// simulated tank at a reading every 10 s, its sensors as the simulator has them
// (noise and resolution there), and times of a gateway that is a little late.
const (
	perColumn = 12 * 3600 / 10
	every     = 10_000
)

var began = time.Date(2031, 3, 3, 6, 0, 0, 0, time.UTC)

type sensor struct {
	name   string
	values []float64
}

var atrium = sync.OnceValue(func() []sensor { return simulate(perColumn) })

// tenDays is what 1440 rows of ten minutes are made of.
var tenDays = sync.OnceValue(func() []sensor { return simulate(20 * perColumn) })

func simulate(n int) []sensor {
	hours := aquarium.Span{From: 8 * 60, To: 17 * 60}
	lights := aquarium.Span{From: 10 * 60, To: 18 * 60}
	names := map[string]aquarium.Quantity{
		"ph": aquarium.PH, "water": aquarium.Temperature, "level": aquarium.Level, "flow": aquarium.Flow,
		"valve": aquarium.Switch, "topoff": aquarium.Switch, "store": aquarium.Volume, "waste": aquarium.Level,
		"heat": aquarium.Switch, "air": aquarium.Temperature, "salts": aquarium.Conductivity, "gas": aquarium.Gas,
	}
	order := []string{"ph", "water", "level", "flow", "valve", "topoff", "store", "waste", "heat", "air", "salts", "gas"}
	tank := aquarium.Tank{
		ID: "atrium", Size: aquarium.Size{LengthCM: 150, WidthCM: 60, FillCM: 52, DisplacedL: 40},
		AlkalinityDKH: 4, Lights: &lights,
		Equipment: aquarium.Equipment{
			CO2:       &aquarium.CO2{PH: "ph", Target: 6.6, Band: 0.05, Valve: "valve", Hours: &hours},
			TopOff:    &aquarium.TopOff{Level: "level", BandMM: 4, Pump: "topoff", RateLH: 90, From: "store"},
			Filters:   []aquarium.Filter{{ID: "a", Flow: "flow", RatedLH: 1100}},
			Reservoir: &aquarium.Reservoir{Volume: "store", CapacityL: 200, ProductionLH: 70},
			Drain:     &aquarium.Drain{Level: "waste", StartMM: 250, StopMM: 60, OverflowMM: 380},
			Heater:    &aquarium.Heater{Temperature: "water", Switch: "heat", Target: 24.5},
			Room:      &aquarium.Room{Temperature: "air", CO2: "gas"},
		},
	}
	for _, n := range order {
		tank.Sensors = append(tank.Sensors, aquarium.Sensor{ID: aquarium.SensorID(n), Quantity: names[n]})
	}
	start := aquarium.At(began)
	k := sim.New(tank, "quillmere-library", time.UTC, sim.Options{Seed: 7, Start: start})
	all := make([]sensor, len(order))
	for i := range n {
		k.Advance(start.Add(time.Duration(i) * every * time.Millisecond))
		for j, r := range k.Readings() {
			all[j].name = string(r.Sensor.Sensor)
			all[j].values = append(all[j].values, r.Value)
		}
	}
	return all
}

// rollUp is the rows of so many readings each, their sums decimal sums.
func rollUp(vs []float64, per int) []column.Row {
	var rows []column.Row
	for i := 0; i+per <= len(vs); i += per {
		r := column.Row{At: began.UnixMilli() + int64(i)*every, Good: uint32(per), Min: vs[i], Max: vs[i]}
		sum, top := int64(0), uint8(0)
		for _, v := range vs[i : i+per] {
			r.Min, r.Max = min(r.Min, v), max(r.Max, v)
			m, e, _ := column.Decimal(v)
			for ; top < e; top++ {
				sum *= 10
			}
			for ; e < top; e++ {
				m *= 10
			}
			sum += m
		}
		r.Sum = column.FromDecimal(sum, top)
		rows = append(rows, r)
	}
	return rows
}

// grid is n times every 10 s, each late by up to about three times jitter ms,
// some missing.
func grid(n int, seed uint64, jitter, missing float64) []int64 {
	r := rand.New(rand.NewPCG(seed, seed))
	var ts []int64
	for at := began.UnixMilli(); len(ts) < n; at += every {
		if r.Float64() < missing {
			continue
		}
		ts = append(ts, at+int64(math.Round(jitter*r.NormFloat64())))
	}
	return ts
}

// entropy0 is how many bytes xs take at their order-0 entropy, tables not
// counted: the floor of a coder that knows nothing but how often each occurs.
func entropy0(xs []int64) float64 {
	counts := map[int64]float64{}
	for _, x := range xs {
		counts[x]++
	}
	bits := 0.0
	for _, c := range counts {
		bits -= c * math.Log2(c/float64(len(xs)))
	}
	return bits / 8
}

// residualEntropy is the least order-0 entropy of what the common predictors
// miss: none, the number before, the step before, and a mean that follows by
// 1/2 to 1/64, rounded.
func residualEntropy(xs []int64) float64 {
	res := make([]int64, len(xs))
	least := entropy0(xs)
	try := func(miss func(i int) int64) {
		for i := 1; i < len(xs); i++ {
			res[i] = miss(i)
		}
		least = min(least, entropy0(res))
	}
	try(func(i int) int64 { return xs[i] - xs[i-1] })
	try(func(i int) int64 { return xs[i] - 2*xs[i-1] + xs[max(0, i-2)] })
	for k := 1.0; k <= 6; k++ {
		mean := float64(xs[0])
		try(func(i int) int64 {
			mean += (float64(xs[i-1]) - mean) / math.Exp2(k)
			return xs[i] - int64(math.Round(mean))
		})
	}
	return least
}
