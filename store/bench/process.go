package main

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

// handedToKernel is how many bytes this process has written so far.
func handedToKernel() int64 {
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		return 0
	}
	return field(text, "wchar:")
}

// memory is what a process holds: all of it, and the anonymous part.
func memory(pid int) (rss, anonymous int64, err error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, 0, err
	}
	return field(text, "VmRSS:") << 10, field(text, "RssAnon:") << 10, nil
}

func field(text []byte, name string) int64 {
	in := bufio.NewScanner(bytes.NewReader(text))
	for in.Scan() {
		if rest, ok := strings.CutPrefix(in.Text(), name); ok {
			n, _ := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
			return n
		}
	}
	return 0
}

// chill has the kernel forget what it holds of the files.
func chill(paths ...string) error {
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		err = f.Sync()
		if err == nil {
			err = unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED)
		}
		f.Close()
		if err != nil {
			return err
		}
	}
	return nil
}

// loadAverage is the last minute's.
func loadAverage() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "unknown"
	}
	one, _, _ := strings.Cut(string(text), " ")
	return one
}

// settle has the kernel write what waits for the file system of dir.
func settle(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer f.Close()
	return unix.Syncfs(int(f.Fd()))
}
