package scene

import "time"

// Clock is the time of a scene that runs Speed times as fast as the world,
// from the moment it was made. At speed 1 it is the world's.
type Clock struct {
	start time.Time
	speed float64
}

// NewClock starts now.
func NewClock(speed float64) Clock { return Clock{time.Now(), speed} }

// Now is the scene's time.
func (c Clock) Now() time.Time {
	if c.speed == 1 {
		return time.Now()
	}
	return c.start.Add(time.Duration(float64(time.Since(c.start)) * c.speed)).Round(0)
}

// Real is how long d of the scene takes in the world.
func (c Clock) Real(d time.Duration) time.Duration {
	return time.Duration(float64(d) / c.speed)
}
