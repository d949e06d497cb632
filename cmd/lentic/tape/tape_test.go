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
	rng := rand.New(rand.NewPCG(20310302, 2))
	for _, chunk := range []int{1, 2, 7, 100, 1000, 1001} {
		t.Run(fmt.Sprint(chunk), func(t *testing.T) {
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
				if err := tp.Add(s); err != nil {
					t.Fatal(err)
				}
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
