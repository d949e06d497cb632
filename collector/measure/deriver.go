package measure

import "lentic/collector/aquarium"

// Deriver turns the readings of one sensor into samples. Only counters have a
// memory; readings of those are to be given oldest first. One goroutine at a
// time may use a Deriver.
type Deriver struct {
	key    aquarium.SensorKey
	sensor aquarium.Sensor
}

// For is the deriver of a configured sensor.
func For(k aquarium.SensorKey, s aquarium.Sensor) *Deriver {
	return &Deriver{key: k, sensor: s}
}

// ForGateway is the deriver of one item of a gateway's health, which means
// what it says.
func ForGateway(k aquarium.SensorKey) *Deriver { return &Deriver{key: k} }

// Sample is what r means.
func (d *Deriver) Sample(r aquarium.Reading) (aquarium.Sample, bool) {
	return aquarium.Sample{Sensor: d.key, At: r.At, Value: r.Value}, true
}
