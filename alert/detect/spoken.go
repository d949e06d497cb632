package detect

import "lentic/collector/aquarium"

// refusedSince is since when nothing of a sensor could be judged, and why the
// newest could not; 0 where it is not so. For how long a value has stood still says
// nothing of one that is strange.
func (s *series) refusedSince() (aquarium.Instant, aquarium.Quality) {
	if s.refused.since == 0 {
		return 0, aquarium.Good
	}
	if at := s.newest(); at != 0 {
		if s.refused.quality != aquarium.Frozen {
			at = max(at, s.refused.frozen)
		}
		return at, s.refused.quality
	}
	return s.refused.since, s.refused.quality
}

// A cause that has something to say of each sensor says it of those only that it
// has ever spoken of: most are well, all the time.
const (
	ofImplausible uint8 = 1 << iota
	ofStuck
	ofUnit
)

// spoken reports whether a cause has ever found something at the sensor.
func (s *series) spoken(of uint8) bool { return s.told&of != 0 }

func (s *series) speak(of uint8, is bool) {
	if is {
		s.told |= of
	}
}
