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
func (b *bench) benchmark(pkg, name, times string, env ...string) (map[string]float64, error) {
	cmd := exec.CommandContext(b.ctx, "go", "test", pkg, "-run", "^$", "-bench", "^"+name+"$", "-benchtime", times, "-timeout", "20m")
	cmd.Dir = b.root
	cmd.Env = append(os.Environ(), env...)
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

func (b *bench) puback() error {
	m, err := b.benchmark("./collector/broker", "BenchmarkLatency", "5x")
	if err != nil {
		return err
	}
	mine, err := figure(m, "µs-p50", "%.0f us")
	if err != nil {
		return err
	}
	bare, err := figure(m, "µs-commit-p50", "%.0f us")
	if err != nil {
		return err
	}
	bare.name = "bare bbolt commit"
	b.table.is("p50", mine, bare, atMost(1.15))
	return nil
}

func (b *bench) fifty() error {
	m, err := b.benchmark("./collector/broker", "BenchmarkFifty", "5x", "LENTIC_BENCH_PAHO=1")
	if err != nil {
		return err
	}
	mine, err := figure(m, "messages/s", "%.0f/s")
	if err != nil {
		return err
	}
	bare, err := figure(m, "bare/s", "%.0f/s")
	if err != nil {
		return err
	}
	bare.name = "bare listener"
	b.table.is("", mine, bare, atLeast(0.3))
	if x, ok := m["x-paho"]; ok {
		over := mine.value / x
		b.table.is("", mine, amount{"over a paho subscriber", over, fmt.Sprintf("%.0f/s", over)}, atLeast(8))
	}
	cpu, err := figure(m, "µs-cpu/message", "%.1f us")
	if err != nil {
		return err
	}
	b.table.stays("CPU a message", cpu, atMost(5).in("us"))
	return nil
}

// lateAcks has no benchmark of its own: what there is measures the way in with
// a disk of 5 ms, but no broker and no peer.
func (b *bench) lateAcks() error {
	b.table.notRun("no benchmark with Mosquitto and a raw subscriber; go test ./collector -run '^$' -bench Intake measures the part after the broker")
	return nil
}
