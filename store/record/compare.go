package record

import (
	"math"
	"slices"
	"strings"

	"lentic/collector/aquarium"
)

// RefusedPayload is how much of a refused payload is kept, in bytes.
const RefusedPayload = 1 << 10

// Same reports whether two readings of one sensor and time say the same: the
// same value, bit by bit, in the same unit. Whether their time was corrected
// by hand makes no difference.
func Same(a, b aquarium.Reading) bool {
	return math.Float64bits(a.Value) == math.Float64bits(b.Value) && a.Unit == b.Unit
}

// Compare orders sensors as aquarium.SensorKey.Less does.
func Compare(a, b aquarium.SensorKey) int {
	if c := strings.Compare(string(a.Site), string(b.Site)); c != 0 {
		return c
	}
	if c := strings.Compare(string(a.Tank), string(b.Tank)); c != 0 {
		return c
	}
	return strings.Compare(string(a.Sensor), string(b.Sensor))
}

// Sum counts one message, newer than those before it, in the sums by topic.
func Sum(by map[string]*Topic, u aquarium.Unclaimed) {
	t, ok := by[u.Topic]
	if !ok {
		t = &Topic{Topic: u.Topic, Oldest: u.Arrived}
		by[u.Topic] = t
	}
	t.Messages++
	t.Bytes += len(u.Payload)
	t.Newest, t.Last = u.Arrived, slices.Clone(u.Payload)
}
