package tape

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"lentic/collector/aquarium"
)

// TestTapeSorts: whatever the order and however little fits the memory, the
// samples come as a sort in memory would give them, and of two for the same
// sensor and time the first given stands.
func TestTapeSorts(t *testing.T) {
	for _, c := range []struct {
		chunk    int
		bySensor bool
	}{{1, false}, {2, false}, {7, false}, {100, false}, {1000, false}, {1001, false}, {2, true}, {90, true}, {1000, true}, {1001, true}} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			rng, chunk := rand.New(rand.NewPCG(20310302, 2)), c.chunk
			tp := New()
			tp.chunk = chunk
			t.Setenv("TMPDIR", t.TempDir())
			var given []aquarium.Sample
			for i := range 1000 {
				s := aquarium.Sample{
					Sensor: aquarium.SensorKey{Site: aquarium.SiteID(fmt.Sprintf("site-%d", rng.IntN(2))), Tank: "atrium",
						Sensor: aquarium.SensorID(fmt.Sprintf("n%d", rng.IntN(3)))},
					At: aquarium.Instant(1_930_000_000_000 + rng.Int64N(100)), Value: float64(i), Quality: aquarium.Quality(rng.IntN(3)),
				}
				given = append(given, s)
			}
			if c.bySensor {
				slices.SortStableFunc(given, func(a, b aquarium.Sample) int {
					return strings.Compare(fmt.Sprint(a.Sensor, a.At), fmt.Sprint(b.Sensor, b.At))
				})
			}
			for _, s := range given {
				if err := tp.Add(s); err != nil {
					t.Fatal(err)
				}
			}
			if runs := len(tp.ends) + len(tp.begins); c.bySensor && runs > 6 {
				t.Errorf("%d runs of six sensors", runs)
			}
			slices.SortStableFunc(given, func(a, b aquarium.Sample) int {
				return strings.Compare(fmt.Sprint(a.Sensor.Site, a.At, a.Sensor), fmt.Sprint(b.Sensor.Site, b.At, b.Sensor))
			})
			want := slices.CompactFunc(given, func(a, b aquarium.Sample) bool { return a.Sensor == b.Sensor && a.At == b.At })
			if got := slices.Collect(tp.Sorted()); tp.Err() != nil || !slices.Equal(got, want) {
				t.Errorf("got %d samples, %v; want %d in order", len(got), tp.Err(), len(want))
			}
			if err := tp.Close(); err != nil {
				t.Error(err)
			}
			if left, err := os.ReadDir(os.Getenv("TMPDIR")); err != nil || len(left) > 0 {
				t.Errorf("left behind: %v, %v", left, err)
			}
		})
	}
}
