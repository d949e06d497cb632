package main

import (
	"math"
	"testing"
)

// TestOrder0 holds the sum against cases that can be worked out in the head.
func TestOrder0(t *testing.T) {
	for _, c := range []struct {
		name string
		vs   []int64
		want float64
	}{
		{"nothing", nil, 0},
		{"all the same", []int64{7, 7, 7, 7}, 0},
		{"a coin", []int64{0, 1, 1, 0}, 4},
		{"four kinds", []int64{1, 2, 3, 4}, 8},
		{"one in four", []int64{1, 0, 0, 0}, 2 + 3*math.Log2(4.0/3)},
	} {
		if got := order0(c.vs); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: got %v bits, want %v", c.name, got, c.want)
		}
	}
}

func TestForetell(t *testing.T) {
	ramp := []int64{5, 7, 9, 11}
	for _, c := range []struct {
		window int
		want   []int64
	}{
		{0, []int64{5, 7, 9, 11}},
		{1, []int64{5, 2, 2, 2}},
		{2, []int64{5, 2, 3, 3}},
	} {
		for i, got := range foretell(ramp, c.window) {
			if got != c.want[i] {
				t.Errorf("mean of %d: got %d at %d, want %d", c.window, got, i, c.want[i])
			}
		}
	}
}
