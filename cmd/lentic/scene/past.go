package scene

import (
	"sync"

	"lentic/collector/aquarium"
	"lentic/store"
)

// batch is how many readings go into the store at a time: enough to make
// little of each commit, few enough to keep memory small.
const batch = 12000

// Remember writes the fortnight behind the tanks into the store, all of it or
// an error. The tanks stand where the past ends afterwards.
func (s *Scene) Remember(db *store.Store) error {
	full := make(chan []aquarium.Reading, 4)
	stop := make(chan struct{})
	var left sync.WaitGroup
	for i := range s.sites {
		for j := range s.sites[i].tanks {
			left.Add(1)
			go func() { defer left.Done(); s.live(&s.sites[i].tanks[j], full, stop) }()
		}
	}
	go func() { left.Wait(); close(full) }()
	err := db.Bulk(func(add func(aquarium.Batch) error) error {
		for rs := range full {
			if err := add(aquarium.Batch{Readings: rs, Arrived: s.opened}); err != nil {
				return err
			}
		}
		return add(aquarium.Batch{Readings: s.gateways(), Arrived: s.opened})
	})
	close(stop)
	for range full { // whoever still simulates must not wait for us
	}
	return err
}

// live lets a tank live through the past.
func (s *Scene) live(t *simulated, full chan<- []aquarium.Reading, stop <-chan struct{}) {
	var rs []aquarium.Reading
	send := func() bool {
		select {
		case full <- rs:
			rs = nil
			return true
		case <-stop:
			return false
		}
	}
	for at := s.opened.Add(-Past).Ceil(Grid); at <= s.opened; at = s.next(at) {
		t.tank.Advance(at)
		rs = t.tank.AppendReadings(rs)
		if len(rs) >= batch && !send() {
			return
		}
	}
	send()
}

// gateways says that each site's gateway has been there since the past began.
func (s *Scene) gateways() []aquarium.Reading {
	var rs []aquarium.Reading
	for _, st := range s.sites {
		rs = append(rs, aquarium.Reading{
			Sensor: aquarium.SensorKey{Site: st.config.ID, Tank: aquarium.SiteWide, Sensor: aquarium.GatewaySensor("gw1", aquarium.GatewayPresent)},
			At:     s.opened.Add(-Past), Value: 1,
		})
	}
	return rs
}
