package main

import (
	"context"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

// TestLines: all of it comes, and after a signal no half of a line.
func TestLines(t *testing.T) {
	long := strings.Repeat("x", longestLine+7)
	for _, text := range []string{"", "a", "a\n", "a\nbc\n", "a\n\nbc", strings.Repeat("time,site\n", 60_000), long, "a\n" + long + "\nb"} {
		for _, in := range []io.Reader{strings.NewReader(text), iotest.HalfReader(strings.NewReader(text)), iotest.DataErrReader(strings.NewReader(text))} {
			l := newLines(context.Background(), in)
			got, err := io.ReadAll(l)
			if err != nil || string(got) != text || l.stopped {
				t.Errorf("%d bytes became %d, %v", len(text), len(got), err)
			}
			if want := strings.Count(text, "\n"); l.n != want {
				t.Errorf("%d lines, want %d", l.n, want)
			}
		}
	}
	text := strings.Repeat("2031-03-02T02:14:30Z,q,a,ph,6.58\n", 50_000)
	for stop := 1; stop < 2_000_000; stop += 123_457 {
		ctx, cancel := context.WithCancel(context.Background())
		given := 0
		l := newLines(ctx, readerFunc(func(b []byte) (int, error) {
			n := copy(b[:min(len(b), 1000)], text[given:])
			if given += n; given > stop {
				cancel()
			}
			if n == 0 {
				return 0, io.EOF
			}
			return n, nil
		}))
		got, err := io.ReadAll(l)
		if err != nil || len(got)%33 != 0 || !strings.HasPrefix(text, string(got)) {
			t.Errorf("stopped at %d: %d bytes, %v", stop, len(got), err)
		}
		if l.stopped != (len(got) < len(text)) || l.n != len(got)/33 {
			t.Errorf("stopped at %d: stopped %v after %d lines of %d", stop, l.stopped, l.n, len(got)/33)
		}
		cancel()
	}
}
