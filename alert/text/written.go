package text

import (
	"math"
	"strconv"
	"strings"

	"lentic/collector/aquarium"
)

// written is Value where there is room for more than a telephone's alphabet. A
// flow under 100 l/h is no filter's but a leak's or a pump's, and is told finer.
func written(x float64, u aquarium.Unit) string {
	if u == "l/h" && math.Abs(x) < 100 {
		return fine(x) + " l/h"
	}
	if w, ok := signs[u]; ok {
		return Number(x, u) + " " + w
	}
	return Value(x, u)
}

var signs = map[aquarium.Unit]string{"Cel": "°C", "K/h": "°C an hour", "mm/h": "mm an hour", "uS/cm": "µS/cm"}

// fine is a small flow with two digits.
func fine(x float64) string {
	if math.Abs(x) < 0.05 || math.IsNaN(x) {
		return "0"
	}
	return strconv.FormatFloat(x, 'f', max(0, 1-int(math.Floor(math.Log10(math.Abs(x))))), 64)
}

// apart is a difference: without sign, and of pH without its name.
func apart(d float64, u aquarium.Unit) string {
	d = math.Abs(d)
	if u == "pH" {
		return Number(d, u)
	}
	return strings.TrimPrefix(written(d, u), "+")
}
