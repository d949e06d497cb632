package aquarium

import (
	"fmt"
	"strings"
)

// Identifiers as the configuration, the topics and the API spell them. Each is
// a type of its own so that a site cannot be passed where a tank is meant.
type (
	SiteID    string
	TankID    string
	SensorID  string
	GatewayID string
	PersonID  string
	ChannelID string
	// EquipmentKey names the part an alarm is about: the key under
	// `equipment:`, a filter's or doser's id, or a sensor's id for the
	// sensor causes; empty where the tank or site itself is meant.
	EquipmentKey string
	// AlarmID is given once, when an alarm is first raised, and survives a
	// change of its cause's name.
	AlarmID string
)

// SiteWide stands where a tank's id would, in topics and keys, for what
// belongs to the whole site: its gateways. It is no valid id, so no tank can
// take it.
const SiteWide TankID = "-"

// TankKey names one tank among all sites.
type TankKey struct {
	Site SiteID
	Tank TankID
}

func (k TankKey) String() string { return string(k.Site) + "/" + string(k.Tank) }

// SensorKey names one sensor among all sites. A gateway's own health is kept
// under the tank SiteWide and the sensor GatewaySensor(gateway, item).
type SensorKey struct {
	Site   SiteID
	Tank   TankID
	Sensor SensorID
}

// TankKey is the tank the sensor belongs to.
func (k SensorKey) TankKey() TankKey { return TankKey{k.Site, k.Tank} }

func (k SensorKey) String() string {
	return string(k.Site) + "/" + string(k.Tank) + "/" + string(k.Sensor)
}

// Less orders keys by site, tank and sensor.
func (k SensorKey) Less(o SensorKey) bool {
	if k.Site != o.Site {
		return k.Site < o.Site
	}
	if k.Tank != o.Tank {
		return k.Tank < o.Tank
	}
	return k.Sensor < o.Sensor
}

// What lentic keeps of a gateway, as readings of the tank SiteWide.
const (
	GatewayPresent  = "present"  // 1 after `present`, 0 after `absent`
	GatewayMains    = "mains"    // 1 while the gateway has mains
	GatewayBattery  = "battery"  // %EL
	GatewayBuffered = "buffered" // readings waiting in the gateway
	GatewaySignal   = "signal"   // dBm
	GatewayClock    = "clock"    // seconds a record set aside was off, at its arrival
)

// GatewaySensor is the sensor id under which one item of a gateway's health is
// kept. The slash keeps it apart from every id a configuration can give.
func GatewaySensor(g GatewayID, item string) SensorID {
	return SensorID(string(g) + "/" + item)
}

// SplitGatewaySensor is the inverse of GatewaySensor; ok is false for the id
// of an ordinary sensor.
func SplitGatewaySensor(s SensorID) (g GatewayID, item string, ok bool) {
	a, b, ok := strings.Cut(string(s), "/")
	return GatewayID(a), b, ok
}

// CheckID reports why s is not a valid id, or nil. An id is a lower-case
// letter or digit followed by at most 31 letters, digits or hyphens.
func CheckID(s string) error {
	if s == "" {
		return fmt.Errorf("id is empty: want [a-z0-9][a-z0-9-]{0,31}")
	}
	if len(s) > 32 {
		// Strangers choose the length, so no more than that is said again.
		return fmt.Errorf("id %q... has %d bytes: at most 32 are allowed", s[:32], len(s))
	}
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9':
		case c == '-' && i > 0:
		default:
			return fmt.Errorf("id %q: character %q at position %d: want [a-z0-9][a-z0-9-]{0,31}", s, rune(c), i+1)
		}
	}
	return nil
}
