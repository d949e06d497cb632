package main

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"lentic/store/bench/tanks"
)

// server is a started program with a web page and a broker.
type server struct {
	cmd       *exec.Cmd
	log       string
	web, mqtt string
}

// quantities of the twelve sensors, in their order.
var quantities = [tanks.Sensors]string{"ph", "temperature", "level", "flow", "flow", "switch", "switch", "volume", "switch", "level", "switch", "switch"}

// config is an operator's file for all tanks, with the equipment that a tank
// of these sensors has.
func config(dir, web, mqtt string) string {
	var s strings.Builder
	fmt.Fprintf(&s, `data: %q
listen: { web: %q, mqtt: %q }
people: [ { id: keeper, name: Keeper, phone: "+447700900101" } ]
channels: [ { id: texts, kind: http, url: "http://127.0.0.1:1/", body: '{{json .Text}}', accepted: { status: 200 } } ]
call_out: { high: [ { tell: keeper, by: texts } ], medium: [ { tell: keeper, by: texts } ], low: [ { tell: keeper, by: texts, digest: "07:30" } ] }
sites:
`, dir, web, mqtt)
	for site := range 3 {
		fmt.Fprintf(&s, "  - id: %s\n    name: Site\n    timezone: Europe/London\n    tanks:\n", tanks.Key(site*tanks.Sensors).Site)
		for n := site; n < tankCount; n += 3 {
			fmt.Fprintf(&s, `      - id: %s
        name: Tank %d
        size: { length_cm: 150, width_cm: 60, fill_cm: 52, displaced_l: 40 }
        started: 2025-02-10
        substrate: inert
        alkalinity_dkh: 4
        limits: { ph: [6.1, 8.4], temperature: [22, 28] }
        sensors:
`, tanks.Key(n*tanks.Sensors).Tank, n)
			for i, q := range quantities {
				fmt.Fprintf(&s, "          %s: { quantity: %s }\n", tanks.Key(i).Sensor, q)
			}
			s.WriteString(`        equipment:
          co2:       { ph: ph, target: 6.6, band: 0.05, valve: valve, hours: "08:00-17:00" }
          top_off:   { level: level, band_mm: 4, pump: topoff, rate_l_h: 90, from: store }
          filters:   [ { id: a, flow: flow-a, rated_l_h: 1100 }, { id: b, flow: flow-b, rated_l_h: 1100 } ]
          reservoir: { volume: store, capacity_l: 200, refill: refill, production_l_h: 70 }
          drain:     { level: waste, start_mm: 250, stop_mm: 60, overflow_mm: 380, pump: waste-pump }
          heater:    { temperature: water, switch: heat, target: 24.5 }
`)
		}
	}
	return s.String()
}

// freeAddress is one on loopback that nobody listens on now. It lies below the
// range that Linux gives to outgoing connections (from 32768 on).
func freeAddress() (string, error) {
	for port := 21000; port < 32000; port++ {
		address := fmt.Sprintf("127.0.0.1:%d", port)
		if l, err := net.Listen("tcp", address); err == nil {
			return address, l.Close()
		}
	}
	return "", fmt.Errorf("no free port on loopback")
}

// patience is how long a start may take: the first over a file learns from the
// last weeks of each tank before it is well.
const patience = 10 * time.Minute

// launch starts a program and tells how long it took until /healthz was 200.
func (b *bench) launch(log string, args func(web, mqtt string) []string) (*server, time.Duration, error) {
	s := &server{log: log}
	var err error
	if s.web, err = freeAddress(); err != nil {
		return nil, 0, err
	}
	l, err := net.Listen("tcp", s.web) // so that the other is another
	if err != nil {
		return nil, 0, err
	}
	s.mqtt, err = freeAddress()
	l.Close()
	if err != nil {
		return nil, 0, err
	}
	out, err := os.Create(log)
	if err != nil {
		return nil, 0, err
	}
	defer out.Close()
	line := args(s.web, s.mqtt)
	s.cmd = exec.CommandContext(b.ctx, line[0], line[1:]...)
	s.cmd.Stdout, s.cmd.Stderr = out, out
	start := time.Now()
	if err := s.cmd.Start(); err != nil {
		return nil, 0, err
	}
	for time.Since(start) < patience && b.ctx.Err() == nil {
		if healthy(s.web) {
			return s, time.Since(start), nil
		}
		time.Sleep(200 * time.Microsecond)
	}
	said, _ := os.ReadFile(log)
	s.stop()
	if err := b.ctx.Err(); err != nil {
		return nil, 0, err
	}
	return nil, 0, fmt.Errorf("%s: not healthy within %v: %s", filepath.Base(line[0]), patience, lastLine(said))
}

func lastLine(text []byte) string {
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	return lines[len(lines)-1]
}

// healthy asks anew each time: a connection that was refused is no connection.
func healthy(address string) bool {
	client := http.Client{Timeout: time.Second, Transport: &http.Transport{DisableKeepAlives: true}}
	res, err := client.Get("http://" + address + "/healthz")
	if err != nil {
		return false
	}
	res.Body.Close()
	return res.StatusCode == http.StatusOK
}

// stop ends the process and waits for it.
func (s *server) stop() error {
	s.cmd.Process.Signal(syscall.SIGTERM)
	done := make(chan error, 1)
	go func() { done <- s.cmd.Wait() }()
	select {
	case err := <-done:
		return err
	case <-time.After(time.Minute):
		s.cmd.Process.Kill()
		return <-done
	}
}
