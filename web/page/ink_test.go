package page

import (
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestContrast holds every pair of ink and paper to WCAG 2.2: 4.5:1 for text
// (1.4.3) and 3:1 for lines that mean something (1.4.11). Relative luminance
// and contrast ratio as the recommendation defines them. The faint ruling
// behind a strip carries no meaning by itself and is exempt.
func TestContrast(t *testing.T) {
	b, err := os.ReadFile("../ui/css/ink.css")
	if err != nil {
		t.Fatal(err)
	}
	day, night, ok := strings.Cut(string(b), "@media")
	if !ok {
		t.Fatal("ink.css has no night")
	}
	for name, css := range map[string]string{"day": day, "night": night} {
		c := colours(css)
		for _, p := range []struct {
			ink, paper string
			least      float64
		}{
			{"ink", "paper", 4.5}, {"quiet", "paper", 4.5}, {"vermilion", "paper", 4.5}, {"water", "paper", 4.5},
			{"ink", "night", 4.5}, {"quiet", "night", 4.5}, {"vermilion", "night", 4.5},
			{"line", "paper", 3}, {"line", "night", 3}, {"water", "night", 3},
		} {
			if c[p.ink] == "" || c[p.paper] == "" {
				t.Errorf("%s: --%s or --%s is not there", name, p.ink, p.paper)
				continue
			}
			if got := contrast(c[p.ink], c[p.paper]); got < p.least {
				t.Errorf("%s: --%s on --%s has %.2f:1, want %.1f:1", name, p.ink, p.paper, got, p.least)
			}
		}
	}
	// The recommendation's own extremes.
	if got := contrast("000000", "ffffff"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white is %v:1, want 21:1", got)
	}
}

var colour = regexp.MustCompile(`--([a-z]+): #([0-9a-f]{6});`)

func colours(css string) map[string]string {
	m := map[string]string{}
	for _, f := range colour.FindAllStringSubmatch(css, -1) {
		m[f[1]] = f[2]
	}
	return m
}

func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func luminance(hex string) float64 {
	var sum float64
	for i, w := range []float64{0.2126, 0.7152, 0.0722} {
		n, _ := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		v := float64(n) / 255
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		sum += w * v
	}
	return sum
}
