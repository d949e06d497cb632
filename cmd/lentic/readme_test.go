package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"lentic/cmd/lentic/config"
	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// TestReadmeAgainstTheExample: what the README publishes is taken in by the
// configuration it starts from, message by message.
func TestReadmeAgainstTheExample(t *testing.T) {
	src, err := os.ReadFile(filepath.Join("..", "..", "deploy", "lentic.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	cfg, problems := config.Parse("lentic.yaml", src, config.Env{
		Getenv:   func(string) string { return "a-secret" },
		ReadFile: func(string) ([]byte, error) { return []byte("a-secret\n"), nil },
	})
	if err := problems.Err(); err != nil {
		t.Fatal(err)
	}
	if len(cfg.Warnings) > 0 {
		t.Errorf("the example has warnings: %v", cfg.Warnings)
	}
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	registry := wire.NewRegistry(cfg.Prefix, cfg.Sites)
	lines := regexp.MustCompile(`mosquitto_pub \$H -t (\S+)(?: -r)?\s+-m ('[^']*'|\S+)`).FindAllStringSubmatch(string(readme), -1)
	if len(lines) != 4 {
		t.Errorf("the README publishes %d times, want 4", len(lines))
	}
	readings := 0
	for _, l := range lines {
		d := registry.Decode(wire.Message{Topic: l[1], Payload: []byte(strings.Trim(l[2], "'")), QoS: 1, Arrived: aquarium.Instant(1_930_000_000_000), Source: "README"})
		if len(d.Refused)+len(d.Unclaimed)+len(d.Aside) > 0 {
			t.Errorf("%s %s: got %+v, want it taken in", l[1], l[2], d)
		}
		readings += len(d.Readings)
	}
	if readings != 5 { // four values, and the gateway's presence
		t.Errorf("got %d readings, want 5", readings)
	}
}
