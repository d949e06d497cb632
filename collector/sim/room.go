package sim

import (
	"math"
	"time"

	"lentic/collector/water"
)

// room is the air around the tank, and the water that comes into the house. Its
// figures are those of a heated public building: common practice, no source.
type room struct {
	temperature, humidity, co2 float64 // Cel, %RH, ppm
	draught                    float64 // m/s over the water
	tap                        float64 // Cel, of water tempered for a change
	membrane                   float64 // times the reservoir's usual production, at the mains' present temperature

	warmth, moisture, people, weather, film stream
}

const (
	stillAir   = 0.1 // m/s
	openDoors  = 1.3 // m/s, when it is hot: doors, and a fan over the water
	usualTap   = 23.0
	usualMains = 15.0 // Cel, at which the reservoir's production is the configured one
)

func newRoom(own func(string) stream) room {
	return room{warmth: own("warmth"), moisture: own("moisture"), people: own("people"),
		weather: own("weather"), film: own("film"), draught: stillAir, tap: usualTap, membrane: 1}
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
	open := t.life == nil || t.hour.day != time.Sunday
	if open && h > 8 && h < 19 {
		r.co2 += (280 + 80*r.people.wander(at)) * math.Sin(math.Pi*(h-8)/11)
	}
	if t.life != nil {
		t.stepWeather()
	}
}

// stepWeather puts on top what days and weeks bring: spells of warm and cold,
// weekends without heating, heat waves with open doors, and mains water that
// follows the season.
func (t *Tank) stepWeather() {
	r := &t.room
	at := t.stepped
	days := float64(at) / (24 * 3600 * 1000)
	heat := r.heatWave(days)
	r.temperature += 0.9*r.weather.wanderEvery(at, 4*24*3600) + heat
	if d := t.hour.day; heat == 0 && (d == time.Saturday || d == time.Sunday) {
		r.temperature -= 1.2 * math.Sin(math.Pi*(float64(t.hour.clock)/1440+float64(d)/6)/2)
	}
	r.humidity = math.Min(85, math.Max(25, r.humidity+7*(r.weather+1).wanderEvery(at, 3*24*3600)-2*heat))
	r.draught = stillAir + (openDoors-stillAir)*heat/6
	season := math.Sin(2 * math.Pi * (days - 110) / 365.25) // mains water is warmest in late July
	mains := 13 + 5*season + 1.5*(r.weather+2).wanderEvery(at, 2*24*3600)
	r.membrane = corrected(mains) / corrected(usualMains)
	r.tap = 22.5 + 1.5*(r.weather+3).wanderEvery(at, 24*3600)
}

// heatWave is how many K a heat wave puts on top: in one block of four weeks
// out of three there is one, of three to six days.
func (r *room) heatWave(days float64) float64 {
	const block = 28
	n := int64(math.Floor(days / block))
	if (r.weather + 4).uniform(n) > 1.0/3 {
		return 0
	}
	from := float64(n)*block + 20*(r.weather+5).uniform(n)
	lasts := 3 + 3*(r.weather+6).uniform(n)
	x := (days - from) / lasts
	if x <= 0 || x >= 1 {
		return 0
	}
	return (3 + 2*(r.weather+7).uniform(n)) * math.Min(1, 2*math.Sin(math.Pi*x))
}

// corrected is what a reverse-osmosis membrane makes at that temperature of its
// feed, of what it makes at 25 Cel; colder than its makers say it makes no less.
func corrected(cel float64) float64 {
	made, err := water.Permeate(1, water.Celsius(min(34, max(5, cel))))
	if err != nil {
		return 1
	}
	return float64(made)
}
