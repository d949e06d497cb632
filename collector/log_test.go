package collector

import (
	"context"
	"log/slog"
	"strings"
)

// watch is a logger and the errors it is given beside messages with these words.
func watch(words string) (*slog.Logger, <-chan string) {
	h := &watcher{words: words, seen: make(chan string, 100)}
	return slog.New(h), h.seen
}

type watcher struct {
	words string
	seen  chan string
}

func (*watcher) Enabled(context.Context, slog.Level) bool { return true }
func (h *watcher) WithAttrs([]slog.Attr) slog.Handler     { return h }
func (h *watcher) WithGroup(string) slog.Handler          { return h }
func (h *watcher) Handle(_ context.Context, r slog.Record) error {
	if strings.Contains(r.Message, h.words) {
		r.Attrs(func(a slog.Attr) bool {
			if a.Key == "err" {
				select {
				case h.seen <- a.Value.String():
				default:
				}
			}
			return true
		})
	}
	return nil
}
