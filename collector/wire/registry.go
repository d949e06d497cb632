package wire

import (
	"slices"
	"strings"
	"sync"

	"lentic/collector/aquarium"
)

// Registry says which topic belongs to which sensor. Its topics never change;
// a new configuration gets a new Registry. Any number of callers may use one
// at once.
type Registry struct {
	prefix string
	sites  map[aquarium.SiteID]*site
	own    map[string][]*sensor // by a sensor's effective topic

	// mu guards seen: the gateways heard of, which is all that a registry
	// learns.
	mu   sync.Mutex
	seen map[aquarium.SiteID]map[aquarium.GatewayID]bool
}

type site struct {
	tanks  map[aquarium.TankID]tank
	topics map[string]bool // named by its sensors with `topic:`
}

type tank map[aquarium.SensorID]*sensor

// NewRegistry builds the lookup for the configured sites. An empty prefix
// means "lentic".
func NewRegistry(prefix string, sites []aquarium.Site) *Registry {
	prefix = strings.TrimSuffix(prefix, "/")
	if prefix == "" {
		prefix = "lentic"
	}
	r := &Registry{
		prefix: prefix,
		sites:  map[aquarium.SiteID]*site{},
		own:    map[string][]*sensor{},
		seen:   map[aquarium.SiteID]map[aquarium.GatewayID]bool{},
	}
	for _, s := range sites {
		st := &site{tanks: map[aquarium.TankID]tank{}, topics: map[string]bool{}}
		r.sites[s.ID] = st
		for _, t := range s.Tanks {
			st.tanks[t.ID] = r.addTank(st, s.ID, t)
		}
	}
	return r
}

func (r *Registry) addTank(st *site, id aquarium.SiteID, t aquarium.Tank) tank {
	tk := tank{}
	for _, s := range t.Sensors {
		sn := newSensor(aquarium.SensorKey{Site: id, Tank: t.ID, Sensor: s.ID}, s)
		tk[s.ID] = sn
		topic := s.Topic
		if topic == "" {
			topic = r.prefix + "/" + sn.key.String()
		} else {
			st.topics[topic] = true
		}
		r.own[topic] = append(r.own[topic], sn)
	}
	return tk
}

// Filters lists the MQTT topic filters that cover everything the registry
// knows: the whole prefix, and each topic named elsewhere.
func (r *Registry) Filters() []string {
	var fs []string
	for topic := range r.own {
		if !strings.HasPrefix(topic, r.prefix+"/") {
			fs = append(fs, topic)
		}
	}
	slices.Sort(fs)
	return append([]string{r.prefix + "/#"}, fs...)
}

// May reports whether a gateway of that site may publish on the topic: under
// its own site, and on the topics its site's sensors name.
func (r *Registry) May(id aquarium.SiteID, topic string) bool {
	if strings.HasPrefix(topic, r.prefix+"/"+string(id)+"/") {
		return true
	}
	st := r.sites[id]
	return st != nil && st.topics[topic]
}

// Claims reports whether a message on that topic is somebody's.
func (r *Registry) Claims(topic string) bool {
	if len(r.own[topic]) > 0 {
		return true
	}
	p, why := r.place(topic)
	return why == nil && (p.tank != nil || p.gateway != "")
}

// Seen tells the registry that a gateway of that site exists. Decode tells
// itself when one says `present` or reports its health.
func (r *Registry) Seen(id aquarium.SiteID, g aquarium.GatewayID) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.sites[id] == nil {
		return
	}
	if r.seen[id] == nil {
		r.seen[id] = map[aquarium.GatewayID]bool{}
	}
	// A bound, because strangers may choose the name: beyond it a site has
	// no sole gateway anyway.
	if len(r.seen[id]) < 64 {
		r.seen[id][g] = true
	}
}

// Inherit takes over what another registry has seen, as after a new
// configuration.
func (r *Registry) Inherit(from *Registry) {
	if from == nil || from == r {
		return
	}
	from.mu.Lock()
	var known []aquarium.SensorKey
	for id, gs := range from.seen {
		for g := range gs {
			known = append(known, aquarium.SensorKey{Site: id, Sensor: aquarium.SensorID(g)})
		}
	}
	from.mu.Unlock()
	for _, k := range known {
		r.Seen(k.Site, aquarium.GatewayID(k.Sensor))
	}
}

// UnknownGateway stands for the gateway of a message that came by none that
// could be told.
const UnknownGateway aquarium.GatewayID = "unknown"

// gateway is the one a message of that site came by: by its credentials, else
// the only one seen there, else UnknownGateway.
func (r *Registry) gateway(m *Message, id aquarium.SiteID) aquarium.GatewayID {
	if m.Gateway != "" {
		return m.Gateway
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.seen[id]) == 1 {
		for g := range r.seen[id] {
			return g
		}
	}
	return UnknownGateway
}
