package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"lentic/store/bench/tanks"
)

// starts measures the real program over the year, cold, beside a process that
// has a web server and a broker only: first with all that half a day leaves
// unsealed, then sealed; then its memory.
func (b *bench) starts() error {
	if b.program == "" {
		return errors.New("-lentic names no program to start")
	}
	y, err := b.year()
	if err != nil {
		return err
	}
	return b.scratch(func(dir string) error {
		r := &starting{bench: b, dir: dir, data: y.dir, bare: filepath.Join(dir, "bare")}
		build := exec.CommandContext(b.ctx, "go", "build", "-trimpath", "-ldflags", "-s -w", "-o", r.bare, "lentic/store/bench/bare")
		build.Dir = filepath.Join(b.root, "store", "bench") // the module it belongs to
		build.Env = append(os.Environ(), "CGO_ENABLED=0")
		if out, err := build.CombinedOutput(); err != nil {
			return fmt.Errorf("build the bare process: %w: %s", err, lastLine(out))
		}
		// The first start on a file makes its marks, and does not count.
		if err := r.once(); err != nil {
			return err
		}
		b.table.begin("Start to first HTTP 200, a year of data, cold file")
		if err := r.compare("full unsealed log", atMost(40)); err != nil {
			return err
		}
		if _, err := b.sealYear(); err != nil {
			return err
		}
		if err := r.compare("sealed", atMost(5)); err != nil {
			return err
		}
		return r.memory()
	})
}

type starting struct {
	*bench
	dir, data, bare string
}

func (r *starting) startLentic() (*server, time.Duration, error) {
	return r.launch(filepath.Join(r.dir, "lentic.log"), func(web, mqtt string) []string {
		path := filepath.Join(r.dir, "lentic.yaml")
		if err := os.WriteFile(path, []byte(config(r.data, web, mqtt)), 0o600); err != nil {
			panic(err) // into a folder that we have just made
		}
		return []string{r.program, "run", "-c", path}
	})
}

// startBare is the peer; with a store it has that too, and nothing else.
func (r *starting) startBare() (*server, time.Duration, error) { return r.startWith("") }

func (r *starting) startStore() (*server, time.Duration, error) { return r.startWith(r.yearPath()) }

func (r *starting) startWith(db string) (*server, time.Duration, error) {
	return r.launch(filepath.Join(r.dir, "bare.log"), func(web, mqtt string) []string {
		return []string{r.bare, "-web", web, "-mqtt", mqtt, "-db", db}
	})
}

func (r *starting) once() error {
	s, _, err := r.startLentic()
	if err != nil {
		return err
	}
	return s.stop()
}

func (r *starting) compare(measure string, target check) error {
	var mine, alone, theirs []time.Duration
	for range 5 {
		for _, x := range []struct {
			start func() (*server, time.Duration, error)
			times *[]time.Duration
		}{{r.startBare, &theirs}, {r.startStore, &alone}, {r.startLentic, &mine}} {
			if err := chill(r.yearPath()); err != nil {
				return err
			}
			s, d, err := x.start()
			if err != nil {
				return err
			}
			*x.times = append(*x.times, d)
			s.stop() // the bare one knows no way but the signal
		}
	}
	bare := took("bare HTTP + broker", median(theirs))
	r.table.is(measure+", whole program", took("", median(mine)), bare, target.unless(r.short()))
	r.table.is(measure+", such a process with the store", took("", median(alone)), bare, target.unless(r.short()))
	return nil
}

// memory is that of the program after an hour's readings came in by MQTT, as
// fast as they were acknowledged.
func (r *starting) memory() error {
	r.table.begin("Memory of the whole program")
	bare, _, err := r.startBare()
	if err != nil {
		return err
	}
	bareRSS, bareAnon, err := memory(bare.cmd.Process.Pid)
	bare.stop()
	if err != nil {
		return err
	}
	s, _, err := r.startLentic()
	if err != nil {
		return err
	}
	defer s.stop()
	rss, _, err := memory(s.cmd.Process.Pid)
	if err != nil {
		return err
	}
	if err := r.publishHour(s.mqtt); err != nil {
		return err
	}
	_, anon, err := memory(s.cmd.Process.Pid)
	if err != nil {
		return err
	}
	r.table.is("RSS after start", size("", rss), size("bare HTTP + broker", bareRSS), noTarget)
	r.table.is("anonymous after an hour's readings", size("", anon), size("bare HTTP + broker", bareAnon), noTarget)
	return nil
}

// publishHour sends the hour after the year, a message of twelve readings a
// tank every ten seconds.
func (r *starting) publishHour(address string) error {
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + address).SetClientID("bench"))
	if t := c.Connect(); !t.WaitTimeout(time.Minute) || t.Error() != nil {
		return fmt.Errorf("connect: %v", t.Error())
	}
	defer c.Disconnect(100)
	src := tanks.NewSource(tankCount, tanks.Own, r.end.UnixMilli(), r.seed)
	var rs []tanks.Reading
	for range 360 {
		rs = src.Next(rs[:0])
		var sent []mqtt.Token
		for i := 0; i < len(rs); i += tanks.Sensors {
			k := tanks.Key(rs[i].Series)
			sent = append(sent, c.Publish(fmt.Sprintf("lentic/%s/%s", k.Site, k.Tank), 1, false, pack(rs[i:i+tanks.Sensors])))
		}
		for _, t := range sent {
			if !t.WaitTimeout(time.Minute) || t.Error() != nil {
				return fmt.Errorf("publish: %v", t.Error())
			}
		}
	}
	return nil
}

// pack is readings as SenML (RFC 8428).
func pack(rs []tanks.Reading) []byte {
	text := []byte{'['}
	for i, r := range rs {
		if i > 0 {
			text = append(text, ',')
		}
		text = fmt.Appendf(text, `{"n":%q,"t":%d.%03d,"v":%v}`, tanks.Key(r.Series).Sensor, r.At/1000, r.At%1000, r.Value)
	}
	return append(text, ']')
}
