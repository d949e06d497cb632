package water

// Housing is a glass tank in its room: what its heat goes through.
type Housing struct {
	Length, Width, Fill float64 // of the water, in m
	Glass               float64 // thickness in m
	// Surface gives what evaporates: its water, air, humidity, draught. Its
	// area is Length by Width, whatever it says.
	Surface Surface
	// Covered: nothing evaporates, and the cover is a wall of glass.
	Covered bool
}

// Resistances of the air beside a wall, in m2 K/W, for heat that flows
// sideways, up and down, radiation included: ISO 6946, table of surface
// resistances; conductivity of soda-lime glass, EN 673. Both from memory. That
// of the water inside is a hundredth of them and left out.
const (
	airBeside = 0.13
	airAbove  = 0.10
	airBelow  = 0.17
	glassWmK  = 1.0 // W/(m K)
)

// waterHeat is the heat capacity of water in kJ/(kg K), 4.18 within 0.1 % from
// 15 to 40 Cel (IAPWS-95, from memory).
const waterHeat = 4.18

// Loss is the power that the tank gives to its room in steady state, by
// conduction through its glass and open surface and by what evaporates;
// negative in a room that is warmer. Cabinets, hoods, pumps and lights change
// it: it is good to about 30 %. The ranges of Surface.Evaporation, 0.05 to 10 m
// and glass of 3 to 100 mm, else ErrRange.
func (h Housing) Loss() (Watt, error) {
	s := h.Surface
	s.Area = h.Length * h.Width
	litres, err := s.Evaporation()
	if err := first(err, edges.check(h.Length), edges.check(h.Width), edges.check(h.Fill), panes.check(h.Glass)); err != nil {
		return 0, err
	}
	pane := h.Glass / glassWmK
	wattsPerK := 2*(h.Length+h.Width)*h.Fill/(airBeside+pane) + s.Area/(airBelow+pane)
	top, vapour := airAbove, float64(litres)*density(s.Water)/1000*latentHeat(s.Water)/3.6 // kg/h * kJ/kg: W
	if h.Covered {
		top, vapour = airAbove+pane, 0
	}
	wattsPerK += s.Area / top
	return Watt(wattsPerK*float64(s.Water-s.Air) + vapour), nil
}

// Warming is the power it takes beside the losses to warm that much water by so
// many degrees an hour. Out of range is ErrRange.
func Warming(volume Litre, perHour Celsius) (Watt, error) {
	if err := first(volumes.check(float64(volume)), warmings.check(float64(perHour))); err != nil {
		return 0, err
	}
	return Watt(float64(volume) * waterHeat * float64(perHour) / 3.6), nil
}
