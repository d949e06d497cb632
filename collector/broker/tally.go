package broker

import "github.com/prometheus/client_golang/prometheus"

// tally counts what only the broker sees.
type tally struct {
	closed *prometheus.CounterVec
	logins prometheus.Counter
}

func newTally(r prometheus.Registerer, connections func() float64) *tally {
	t := &tally{
		closed: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "lentic_broker_closed_total", Help: "Connections closed for what was sent, by reason."}, []string{"reason"}),
		logins: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "lentic_broker_logins_refused_total", Help: "Connections refused for their user name or password."}),
	}
	if r != nil {
		r.MustRegister(t.closed, t.logins,
			prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: "lentic_broker_connections", Help: "Devices connected now."}, connections))
	}
	return t
}
