package web

import (
	"net/http"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	dto "github.com/prometheus/client_model/go"

	"lentic/collector/aquarium"
)

// metrics answers with the latest readings of the sites the visitor sees, and
// keepers with the daemon's own health as well: OpenMetrics where that is
// accepted, else the plain text.
func (s *Server) metrics(w http.ResponseWriter, r *http.Request, v visitor) error {
	reg := prometheus.NewPedanticRegistry()
	if err := reg.Register(&gauges{s, v}); err != nil {
		return err
	}
	all := prometheus.Gatherers{reg, prometheus.GathererFunc(func() ([]*dto.MetricFamily, error) {
		return s.ownMetrics(v)
	})}
	promhttp.HandlerFor(all, promhttp.HandlerOpts{EnableOpenMetrics: true}).ServeHTTP(w, r)
	return nil
}

// ownMetrics is the daemon's own health; a viewer gets of it what is labelled
// with a site of theirs.
func (s *Server) ownMetrics(v visitor) ([]*dto.MetricFamily, error) {
	fs, err := s.Metrics.Gather()
	if v.Acts() {
		return fs, err
	}
	var out []*dto.MetricFamily
	for _, f := range fs {
		var keep []*dto.Metric
		for _, m := range f.Metric {
			for _, l := range m.Label {
				if l.GetName() == "site" && v.Sees(aquarium.SiteID(l.GetValue())) {
					keep = append(keep, m)
				}
			}
		}
		if len(keep) > 0 {
			out = append(out, &dto.MetricFamily{Name: f.Name, Help: f.Help, Type: f.Type, Unit: f.Unit, Metric: keep})
		}
	}
	return out, err
}

var (
	readingGauge = prometheus.NewDesc("lentic_reading",
		"Latest reading of a sensor in its quantity's first unit, at its own time; absent once silent.",
		[]string{"site", "tank", "sensor", "quantity", "unit"}, nil)
	timeGauge = prometheus.NewDesc("lentic_reading_time_seconds",
		"Unix time of the latest reading of a sensor; absent once silent.",
		[]string{"site", "tank", "sensor"}, nil)
)

// gauges collects the latest readings for one visitor.
type gauges struct {
	s *Server
	v visitor
}

func (g *gauges) Describe(ch chan<- *prometheus.Desc) {
	ch <- readingGauge
	ch <- timeGauge
}

func (g *gauges) Collect(ch chan<- prometheus.Metric) {
	for _, site := range g.s.scene.Load().seen(g.v) {
		for _, tank := range site.Tanks {
			for _, sensor := range tank.Sensors {
				g.collect(ch, aquarium.SensorKey{Site: site.ID, Tank: tank.ID, Sensor: sensor.ID}, sensor)
			}
		}
	}
}

func (g *gauges) collect(ch chan<- prometheus.Metric, k aquarium.SensorKey, sensor aquarium.Sensor) {
	v, ok := g.s.newest(k, sensor)
	if !ok || silent(v.At, g.s.now(), g.s.every(k, sensor)) {
		return
	}
	site, tank, id := string(k.Site), string(k.Tank), string(k.Sensor)
	ch <- prometheus.NewMetricWithTimestamp(v.At.Time(), prometheus.MustNewConstMetric(readingGauge, prometheus.GaugeValue,
		v.Value, site, tank, id, string(sensor.Quantity), string(unitOf(sensor))))
	ch <- prometheus.MustNewConstMetric(timeGauge, prometheus.GaugeValue, float64(v.At)/1000, site, tank, id)
}
