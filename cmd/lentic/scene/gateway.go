package scene

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"lentic/collector/aquarium"
)

// Every is how often the scene's gateways report.
const Every = 10 * time.Second

// gateway stands for the device on one site: it reads the site's tanks and
// publishes them over real MQTT, with its Will, as a real one would.
type gateway struct {
	site   aquarium.Site
	tanks  []simulated
	clock  Clock
	broker string
}

func (g *gateway) topic() string { return fmt.Sprintf("lentic/%s/-/gw1", g.site.ID) }

// run publishes until ctx ends, from the first whole Every after its start.
func (g *gateway) run(ctx context.Context) error {
	client := mqtt.NewClient(mqtt.NewClientOptions().
		AddBroker("tcp://"+g.broker).SetClientID("gw1-"+string(g.site.ID)).
		SetConnectRetry(true).SetConnectRetryInterval(100*time.Millisecond).
		SetWill(g.topic(), "absent", 1, true))
	tok := client.Connect()
	select {
	case <-tok.Done():
	case <-ctx.Done():
		client.Disconnect(0)
		return nil
	}
	if tok.Error() != nil {
		return fmt.Errorf("gateway of %s: %w", g.site.ID, tok.Error())
	}
	defer func() {
		client.Publish(g.topic(), 1, true, "absent").WaitTimeout(time.Second)
		client.Disconnect(250)
	}()
	client.Publish(g.topic(), 1, true, "present")
	next := aquarium.At(g.clock.Now()).Ceil(Every)
	for {
		wait := time.NewTimer(g.clock.Real(next.Sub(aquarium.At(g.clock.Now()))))
		select {
		case <-ctx.Done():
			wait.Stop()
			return nil
		case <-wait.C:
		}
		for i := range g.tanks {
			if err := g.publish(client, &g.tanks[i], next); err != nil {
				return err
			}
		}
		next = next.Add(Every)
	}
}

// record is one SenML record (RFC 8428) as this gateway writes them.
type record struct {
	BaseTime float64  `json:"bt,omitempty"`
	Name     string   `json:"n"`
	Unit     string   `json:"u,omitempty"`
	Value    *float64 `json:"v,omitempty"`
	Bool     *bool    `json:"vb,omitempty"`
}

func (g *gateway) publish(client mqtt.Client, t *simulated, at aquarium.Instant) error {
	t.tank.Advance(at)
	var pack []record
	for _, r := range t.tank.Readings() {
		rec := record{Name: string(r.Sensor.Sensor), Unit: string(r.Unit), Value: &r.Value}
		if s := t.config.Sensor(r.Sensor.Sensor); s != nil && s.Quantity == aquarium.Switch {
			on := r.Value == 1
			rec.Unit, rec.Value, rec.Bool = "", nil, &on
		}
		if len(pack) == 0 {
			rec.BaseTime = float64(at) / 1000
		}
		pack = append(pack, rec)
	}
	if len(pack) == 0 {
		return nil
	}
	b, err := json.Marshal(pack)
	if err != nil {
		return err
	}
	client.Publish(fmt.Sprintf("lentic/%s/%s", g.site.ID, t.config.ID), 1, false, b)
	return nil
}
