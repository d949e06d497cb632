package proof

import (
	"flag"
	"os"
	"testing"
)

// scale is how much of each proof is done: 1 is what `make test` has time for,
// and `make soak` asks for more.
var scale = flag.Float64("proof.scale", 1, "how much of each proof is done; 1 takes a minute or two")

// firstSeed is the seed that random work begins with, to go on from one that
// failed.
var firstSeed = flag.Uint64("proof.seed", 1, "the seed that random work begins with")

// scaled is n by the scale, at least 1 and at most most.
func scaled(n, most int) int { return min(max(1, int(float64(n)**scale/slowness)), most) }

// stride is how many of a long row are passed over for each that is taken: n
// by the scale, and none when the whole is asked for.
func stride(n int) int { return max(1, int(float64(n)*slowness / *scale)) }

// quickDir is a folder for files whose durability is not what is being proven:
// in memory where there is such a place, for the disk's syncs are what takes
// the time.
func quickDir(t testing.TB) string {
	dir, err := os.MkdirTemp("/dev/shm", "lentic-proof-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}
