package alert

import (
	"github.com/prometheus/client_golang/prometheus"

	"lentic/collector/aquarium"
)

// metrics shows the desk's Stats to whoever scrapes.
type metrics struct{ d *Desk }

var (
	ticksDesc = prometheus.NewDesc("lentic_judged_ticks_total",
		"Steps of event time judged, over all sites.", nil, nil)
	lagDesc = prometheus.NewDesc("lentic_judged_lag_seconds",
		"How far the last judged step lay behind the clock.", nil, nil)
	standingDesc = prometheus.NewDesc("lentic_alarms_standing",
		"Alarms that stand, in whatever state.", nil, nil)
	waitingDesc = prometheus.NewDesc("lentic_messages_waiting",
		"Messages that have not left.", nil, nil)
	attemptsDesc = prometheus.NewDesc("lentic_message_attempts_total",
		"Attempts to send a message, by channel and outcome.", []string{"channel", "outcome"}, nil)
)

// Describe lists what Collect sends.
func (m metrics) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{ticksDesc, lagDesc, standingDesc, waitingDesc, attemptsDesc} {
		ch <- d
	}
}

// Collect sends the counts as they are now.
func (m metrics) Collect(ch chan<- prometheus.Metric) {
	s := m.d.Stats()
	ch <- prometheus.MustNewConstMetric(ticksDesc, prometheus.CounterValue, float64(s.Ticks))
	ch <- prometheus.MustNewConstMetric(lagDesc, prometheus.GaugeValue, s.Lag.Seconds())
	ch <- prometheus.MustNewConstMetric(standingDesc, prometheus.GaugeValue, float64(s.Standing))
	ch <- prometheus.MustNewConstMetric(waitingDesc, prometheus.GaugeValue, float64(s.Waiting))
	for outcome, by := range map[string]map[aquarium.ChannelID]int{"delivered": s.Delivered, "failed": s.Failed} {
		for id, n := range by {
			ch <- prometheus.MustNewConstMetric(attemptsDesc, prometheus.CounterValue, float64(n), string(id), outcome)
		}
	}
}
