package main

import (
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
)

// The way in is measured by the collector's own benchmarks, each beside its
// peer in one run; here they are run and their ratios held to the targets.

// benchmark runs one of the collector's in the module above and gives its
// medians by name.
func (b *bench) benchmark(pkg, name, times string) (map[string]float64, error) {
	cmd := exec.CommandContext(b.ctx, "go", "test", pkg, "-run", "^$", "-bench", "^"+name+"$", "-benchtime", times, "-timeout", "20m")
	cmd.Dir = b.root
	cmd.Env = append(os.Environ(), "TMPDIR="+b.dir)
	out, err := cmd.CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %s", strings.Join(cmd.Args, " "), err, lastLine(out))
	}
	for line := range strings.Lines(string(out)) {
		if words := strings.Fields(line); len(words) > 2 && strings.HasPrefix(words[0], name) {
			return metrics(words[2:]), nil
		}
	}
	return nil, fmt.Errorf("%s: printed no figure", strings.Join(cmd.Args, " "))
}

// metrics reads what a benchmark prints: value, unit, value, unit.
func metrics(words []string) map[string]float64 {
	m := map[string]float64{}
	for ; len(words) >= 2; words = words[2:] {
		if v, err := strconv.ParseFloat(words[0], 64); err == nil {
			m[words[1]] = v
		}
	}
	return m
}

// figure is a metric that must be there.
func figure(m map[string]float64, name, format string) (amount, error) {
	v, ok := m[name]
	if !ok {
		return amount{}, fmt.Errorf("the benchmark has no figure %q", name)
	}
	return amount{value: v, text: fmt.Sprintf(format, v)}, nil
}

// beside compares the benchmark's first figure with a figure of a peer.
func (b *bench) beside(m map[string]float64, mine, peer, title, format string, c check) error {
	x, err := figure(m, mine, format)
	if err != nil {
		return err
	}
	y, err := figure(m, peer, format)
	if err != nil {
		return err
	}
	y.name = title
	b.table.is("", x, y, c)
	return nil
}

func (b *bench) puback() error {
	m, err := b.benchmark("./collector/broker", "BenchmarkLatency", "5x")
	if err != nil {
		return err
	}
	return b.beside(m, "µs-p50", "µs-commit-p50", "bare bbolt commit", "%.0f us", atMost(1.15))
}

func (b *bench) fifty() error {
	m, err := b.benchmark("./collector/broker", "BenchmarkFifty", "5x")
	if err != nil {
		return err
	}
	if err := b.beside(m, "messages/s", "bare/s", "bare listener", "%.0f/s", atLeast(0.3)); err != nil {
		return err
	}
	cpu, err := figure(m, "µs-cpu/message", "%.1f us")
	if err != nil {
		return err
	}
	b.table.stays("CPU a message", cpu, atMost(5).in("us"))
	if m, err = b.benchmark("./collector/broker", "BenchmarkFiftyOverPaho", "3x"); err != nil {
		return err
	}
	return b.beside(m, "messages/s", "paho/s", "over a paho subscriber", "%.0f/s", atLeast(8))
}

func (b *bench) lateAcks() error {
	m, err := b.benchmark("./collector", "BenchmarkMosquitto", "5x")
	if err != nil {
		return err
	}
	if err := b.beside(m, "messages/s", "raw/s", "raw subscriber", "%.0f/s", atLeast(0.75)); err != nil {
		return err
	}
	if x, ok := m["x-blocking"]; ok {
		m["blocking/s"] = m["messages/s"] / x
	}
	if err := b.beside(m, "messages/s", "blocking/s", "blocking handler", "%.0f/s", atLeast(100)); err != nil {
		return err
	}
	lost, err := figure(m, "lost", "%.0f")
	if err != nil {
		return err
	}
	b.table.stays("lost", lost, atMost(0).in("messages"))
	return nil
}
