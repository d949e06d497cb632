package statistic

// ProfileDays is how many days a Profile remembers of each hour: two weeks, so
// that each day of the week is in it twice and last month is not.
const ProfileDays = 14

// Profile is what is normal at each hour of the day, whatever the weekday: a
// value of each hour, for instance its median, over the last ProfileDays days
// that had one. It is a plain value, and JSON keeps it whole.
type Profile struct {
	Hours [24]Hour `json:"hours"`
}

// Hour is one hour's values, the oldest being overwritten.
type Hour struct {
	N    int                  `json:"n"` // values ever taken
	Days [ProfileDays]float32 `json:"days"`
}

// Take adds a day's value of an hour, 0..23 in the tank's own time.
func (p *Profile) Take(hour int, v float64) {
	h := &p.Hours[hour]
	h.Days[h.N%ProfileDays] = float32(v)
	h.N++
}

// Usual is the median of an hour over the days, how far a day usually lies from
// it (a robust standard deviation, 0 where all days were the same) and how many
// days it rests on; without any all are 0. A day that went wrong moves neither
// far as long as most did not.
func (p *Profile) Usual(hour int) (median, sd float64, days int) {
	h := &p.Hours[hour]
	if days = min(h.N, ProfileDays); days == 0 {
		return 0, 0, 0
	}
	var xs [ProfileDays]float64
	for i, v := range h.Days[:days] {
		xs[i] = float64(v)
	}
	median, sd = Spread(xs[:days])
	return median, sd, days
}

// At is what is usual at a time of day, in hours since midnight and in the
// tank's own time: in proportion between the middles of the two hours beside
// it. Days are those of the one that has fewer; 0 where either has none.
func (p *Profile) At(hours float64) (median, sd float64, days int) {
	from := int(hours+23.5) % 24
	share := hours + 23.5 - float64(int(hours+23.5))
	a, sa, na := p.Usual(from)
	b, sb, nb := p.Usual((from + 1) % 24)
	if na == 0 || nb == 0 {
		return 0, 0, 0
	}
	return a + share*(b-a), sa + share*(sb-sa), min(na, nb)
}
