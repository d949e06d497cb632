package sim

import (
	"math"

	"lentic/collector/aquarium"
)

// Noise is worked out and not drawn: the same seed, name and instant give the
// same value, whoever asks and how often. mix is the finaliser of splitmix64
// (Steele, Lea & Flood 2014, constants from memory), good enough for noise.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// stream is one source of noise: a seed and a name in one number.
type stream uint64

func newStream(seed uint64, names ...string) stream {
	h := mix(seed)
	for _, n := range names {
		for i := 0; i < len(n); i++ {
			h = mix(h ^ uint64(n[i]))
		}
		h = mix(h + 1)
	}
	return stream(h)
}

// uniform is the n-th value of the stream, in [0, 1).
func (s stream) uniform(n int64) float64 {
	return float64(mix(uint64(s)^mix(uint64(n)))>>11) / (1 << 53)
}

// between is one fixed value of the stream in [lo, hi): a tank's own nature.
func (s stream) between(lo, hi float64) float64 { return lo + (hi-lo)*s.uniform(0) }

// normal is close to a standard normal deviate: the sum of four 16-bit
// uniforms, which never exceeds 3.5 either way, as an averaging probe doesn't.
func (s stream) normal(at aquarium.Instant) float64 {
	x := mix(uint64(s) ^ mix(uint64(at)))
	sum := float64(x&0xffff) + float64(x>>16&0xffff) + float64(x>>32&0xffff) + float64(x>>48)
	return (sum/65535 - 2) * math.Sqrt(3)
}

// wander moves smoothly between -1 and 1, with a new aim every three hours.
func (s stream) wander(at aquarium.Instant) float64 { return s.wanderEvery(at, 3*3600) }

// wanderEvery is wander with a new aim every so many seconds.
func (s stream) wanderEvery(at aquarium.Instant, seconds int64) float64 {
	every := seconds * 1000
	n := int64(at) / every
	x := float64(int64(at)%every) / float64(every)
	x = x * x * (3 - 2*x)
	return 2*(s.uniform(n)*(1-x)+s.uniform(n+1)*x) - 1
}
