package sim

import "math"

// room is the air around the tank. Its figures are those of a heated public
// building: common practice, no source.
type room struct {
	temperature, humidity, co2 float64 // Cel, %RH, ppm

	warmth, moisture, people stream
}

func newRoom(own func(string) stream) room {
	return room{warmth: own("warmth"), moisture: own("moisture"), people: own("people")}
}

// stepRoom: warmest in the afternoon and coolest before dawn, with people and
// their breath in between.
func (t *Tank) stepRoom() {
	r := &t.room
	h := float64(t.hour.clock) / 60
	at := t.stepped
	r.temperature = 20.5 + 2*math.Cos(2*math.Pi*(h-15)/24) + 0.6*r.warmth.wander(at) + t.trouble.roomK
	r.humidity = 50 + 8*r.moisture.wander(at)
	r.co2 = 430 + t.trouble.roomPPM
	if h > 8 && h < 19 {
		r.co2 += (280 + 80*r.people.wander(at)) * math.Sin(math.Pi*(h-8)/11)
	}
}
