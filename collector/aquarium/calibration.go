package aquarium

// Calibration is what a pH electrode gave in buffers, as somebody read it off.
type Calibration struct {
	Sensor SensorID `json:"sensor"`
	// Unit of the readings: pH, as the sensor tells it, or mV. Both are after
	// the sensor's scale and offset.
	Unit Unit `json:"unit"`
	// Temperature of the buffers, Cel.
	Temperature float64  `json:"temperature"`
	Buffers     []Buffer `json:"buffers"` // one at least
	State       AsState  `json:"state,omitempty"`
	// Cleaned is what the sensor read in the tank around its cleaning, before
	// it came into the buffers; nil: not told.
	Cleaned *Cleaning `json:"cleaned,omitempty"`
}

// Buffer is one buffer solution and the reading in it.
type Buffer struct {
	Label   float64 `json:"label"` // pH at 25 Cel, as printed on the bottle
	Reading float64 `json:"reading"`
}

// AsState tells what the readings in the buffers speak for.
type AsState string

const (
	// AsRead: nothing was adjusted, so that they tell how the sensor was until
	// then and how it goes on.
	AsRead AsState = ""
	// AsFound: before anything was adjusted; they tell of the time before.
	AsFound AsState = "found"
	// AsLeft: after the adjustment; they tell of the time from then on.
	AsLeft AsState = "left"
)

// Cleaning is what a sensor read in the tank before and after it was cleaned,
// and what an independent meter read at the same times, in pH. Without a meter
// both of its values are 0.
type Cleaning struct {
	Before      float64 `json:"before"`
	After       float64 `json:"after"`
	MeterBefore float64 `json:"meter_before,omitempty"`
	MeterAfter  float64 `json:"meter_after,omitempty"`
}
