package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"time"

	"lentic/store"
	"lentic/store/bench/peer"
	"lentic/store/bench/tanks"
)

// contender is one of those that commit the same readings. Each is a process
// of its own, so that none carries another's memory, and works only in its
// turn.
type contender struct {
	name   string
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Scanner
	took   []time.Duration // each commit
	rounds []time.Duration // the mean commit of each round
	wrote  int64           // bytes handed to the kernel
}

// committerNames in the order of the table.
var committerNames = []string{"lentic", "plain", "bbolt", "tsdb", "sqlite"}

var committerTitles = map[string]string{
	"lentic": "", "plain": "plain file", "bbolt": "bbolt one record", "tsdb": "tsdb + fdatasync", "sqlite": "SQLite FULL",
}

func (c *contender) title() string { return committerTitles[c.name] }

// committer opens the one of that name in dir.
func committer(name, dir string) (peer.Peer, error) {
	path := filepath.Join(dir, name)
	if name == "lentic" {
		path += ".db"
	}
	switch name {
	case "lentic":
		return openLentic(path, tankCount, store.Options{})
	case "plain":
		return peer.NewPlain(path)
	case "bbolt":
		return peer.NewBolt(path)
	case "tsdb":
		return peer.NewTSDB(path, true)
	case "sqlite":
		return peer.NewSQLite(path, true)
	}
	return nil, fmt.Errorf("no such contender: %q", name)
}

// lot is what a contender did in its turn.
type lot struct {
	Took  []time.Duration
	Wrote int64
}

func (b *bench) start(name, dir string, n, each int) (*contender, error) {
	return b.startChild("commit", name, dir, fmt.Sprint(b.begin()), fmt.Sprint(b.seed), fmt.Sprint(n), fmt.Sprint(each))
}

// startChild starts one that answers each line with a lot.
func (b *bench) startChild(kind, name string, args ...string) (*contender, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	c := &contender{name: name, cmd: exec.CommandContext(b.ctx, self, append([]string{childFlag, kind, name}, args...)...)}
	c.cmd.Stderr = os.Stderr
	if c.in, err = c.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	c.out = bufio.NewScanner(out)
	c.out.Buffer(nil, 1<<24)
	return c, c.cmd.Start()
}

// turn has the contender commit its lot.
func (c *contender) turn(counts bool) error {
	if _, err := io.WriteString(c.in, "\n"); err != nil {
		return err
	}
	if !c.out.Scan() {
		return fmt.Errorf("no answer: %v", c.cmd.Wait())
	}
	var l lot
	if err := json.Unmarshal(c.out.Bytes(), &l); err != nil {
		return err
	}
	if counts {
		c.took = append(c.took, l.Took...)
		c.rounds = append(c.rounds, sum(l.Took)/time.Duration(len(l.Took)))
		c.wrote += l.Wrote
	}
	return nil
}

func (c *contender) stop() {
	c.in.Close()
	c.cmd.Wait()
}

func sum(ds []time.Duration) (all time.Duration) {
	for _, d := range ds {
		all += d
	}
	return all
}

// commitInTurn is the contender's process: name, folder, begin, seed, readings
// a commit, commits a turn.
func commitInTurn(args []string) error {
	if len(args) != 6 {
		return fmt.Errorf("commit: %d arguments", len(args))
	}
	numbers := make([]int64, 6)
	for i, a := range args[2:] {
		var err error
		if numbers[i], err = strconv.ParseInt(a, 10, 64); err != nil {
			return err
		}
	}
	begin, seed, n, each := numbers[0], numbers[1], int(numbers[2]), int(numbers[3])
	p, err := committer(args[0], args[1])
	if err != nil {
		return err
	}
	s := &stream{src: tanks.NewSource(tankCount, tanks.Own, begin, uint64(seed))}
	if err := p.Commit(s.next(tankCount * tanks.Sensors)); err != nil { // makes all series
		return err
	}
	turns := bufio.NewScanner(os.Stdin)
	lots := make([][]tanks.Reading, each)
	for turns.Scan() {
		for i := range lots {
			lots[i] = append(lots[i][:0], s.next(n)...)
		}
		var l lot
		before := handedToKernel()
		for _, rs := range lots {
			start := time.Now()
			if err := p.Commit(rs); err != nil {
				return err
			}
			l.Took = append(l.Took, time.Since(start))
		}
		l.Wrote = handedToKernel() - before
		if mine, ok := p.(*lentic); ok {
			if err := mine.tidy(); err != nil {
				return err
			}
		}
		if err := json.NewEncoder(os.Stdout).Encode(l); err != nil {
			return err
		}
	}
	return p.Close()
}
