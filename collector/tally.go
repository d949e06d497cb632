package collector

import (
	"log/slog"
	"maps"
	"sync"
	"sync/atomic"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
)

// Stats counts what has come through and is on disk.
type Stats struct {
	Messages, Readings, Aside, Unclaimed, Commits uint64

	Refused map[aquarium.Reason]uint64
	// Sources counts refusals by where they came from, for the first
	// thousand.
	Sources map[Refuser]uint64
	// Queued is the number of things that wait for the disk now.
	Queued int
	// Heard and Committed are when the last message came and when the last
	// commit ended; 0: none yet.
	Heard, Committed aquarium.Instant
}

// Refuser is one source and one reason for refusing what it sends.
type Refuser struct {
	Source string
	Reason aquarium.Reason
}

// sources bounds the sources that are told apart; strangers choose their names.
const sources = 1000

// tally counts, and logs what is new.
type tally struct {
	log *slog.Logger

	messages, readings, aside, unclaimed prometheus.Counter
	refused                              *prometheus.CounterVec
	seconds                              prometheus.Histogram
	size                                 prometheus.Histogram

	heard atomic.Int64 // the Instant of the last message

	mu sync.Mutex // guards s
	s  Stats
}

func newTally(log *slog.Logger) *tally {
	count := func(name, help string) prometheus.Counter {
		return prometheus.NewCounter(prometheus.CounterOpts{Name: "lentic_intake_" + name + "_total", Help: help})
	}
	return &tally{
		log:       log,
		messages:  count("messages", "Messages decoded and on disk."),
		readings:  count("readings", "Readings on disk, repeats included."),
		aside:     count("aside", "Records set aside because their time cannot be right."),
		unclaimed: count("unclaimed", "Messages on topics that no sensor has."),
		refused: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "lentic_intake_refused_total", Help: "Payloads and records refused, by reason."}, []string{"reason"}),
		seconds: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "lentic_intake_commit_seconds", Help: "Time one commit takes, judging and showing included.",
			Buckets: []float64{.001, .002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5}}),
		size: prometheus.NewHistogram(prometheus.HistogramOpts{
			Name: "lentic_intake_batch_readings", Help: "Readings in one commit.",
			Buckets: []float64{1, 10, 100, 1000, 5000}}),
		s: Stats{Refused: map[aquarium.Reason]uint64{}, Sources: map[Refuser]uint64{}},
	}
}

func (t *tally) register(r prometheus.Registerer, queued func() float64) {
	if r == nil {
		return
	}
	r.MustRegister(t.messages, t.readings, t.aside, t.unclaimed, t.refused, t.seconds, t.size,
		prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "lentic_intake_queued", Help: "Things waiting for the disk."}, queued))
}

func (t *tally) committed(b *aquarium.Batch, messages int, at aquarium.Instant, took time.Duration) {
	t.messages.Add(float64(messages))
	t.readings.Add(float64(len(b.Readings)))
	t.aside.Add(float64(len(b.Aside)))
	t.unclaimed.Add(float64(len(b.Unclaimed)))
	t.seconds.Observe(took.Seconds())
	t.size.Observe(float64(len(b.Readings)))

	t.mu.Lock()
	defer t.mu.Unlock()
	t.s.Messages += uint64(messages)
	t.s.Readings += uint64(len(b.Readings))
	t.s.Aside += uint64(len(b.Aside))
	t.s.Unclaimed += uint64(len(b.Unclaimed))
	t.s.Commits++
	t.s.Committed = at
	for k := range b.Refused {
		t.refuse(&b.Refused[k])
	}
}

// refuse counts one refusal, and logs it the first time that this source is
// refused for this reason. mu is held.
func (t *tally) refuse(r *aquarium.Refusal) {
	t.refused.WithLabelValues(string(r.Reason)).Inc()
	t.s.Refused[r.Reason]++
	k := Refuser{r.Source, r.Reason}
	n, known := t.s.Sources[k]
	if !known && len(t.s.Sources) >= sources {
		return
	}
	t.s.Sources[k] = n + 1
	if !known {
		t.log.Warn("refused; more of the same is counted and not logged",
			"reason", string(r.Reason), "source", r.Source, "topic", r.Topic, "err", r.Detail)
	}
}

func (t *tally) stats() Stats {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := t.s
	s.Heard = aquarium.Instant(t.heard.Load())
	s.Refused = maps.Clone(s.Refused)
	s.Sources = maps.Clone(s.Sources)
	return s
}
