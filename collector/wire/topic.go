package wire

import (
	"strings"
	"unicode/utf8"

	"lentic/collector/aquarium"
)

// maxTopic bounds what is kept of strangers' topics. MQTT allows 65,535 bytes.
const maxTopic = 1024

// place is what a topic under the prefix names.
type place struct {
	tank    tank               // a pack of that tank
	site    aquarium.SiteID    // of the gateway
	gateway aquarium.GatewayID // its word, or its health
	health  bool
}

// CheckTopic reports why nothing may be published on a topic, or nil: MQTT
// keeps wildcards and topics beginning with `$` to itself, and control
// characters and dot levels have no business in a name.
func CheckTopic(topic string) error {
	if why := checkTopic(topic); why != nil {
		return why
	}
	return nil
}

func checkTopic(topic string) *refusal {
	switch {
	case topic == "":
		return refuse(aquarium.ReasonTopic, "the topic is empty: publish on <prefix>/<site>/<tank>/<sensor>")
	case len(topic) > maxTopic:
		return refuse(aquarium.ReasonTopic, "the topic has %d bytes: at most %d are allowed", len(topic), maxTopic)
	case !utf8.ValidString(topic):
		return refuse(aquarium.ReasonTopic, "the topic is not UTF-8")
	case topic[0] == '$':
		return refuse(aquarium.ReasonTopic, "topic %q: names beginning with $ belong to the broker", cut(topic))
	}
	for _, c := range topic {
		switch {
		case c == '#' || c == '+':
			return refuse(aquarium.ReasonTopic, "topic %q: %q is for subscribing: publish on one topic, spelt out", cut(topic), c)
		case c < ' ' || c == 0x7f:
			return refuse(aquarium.ReasonTopic, "topic %q: control character %U: remove it", cut(topic), c)
		}
	}
	for level := range strings.SplitSeq(topic, "/") {
		if level == "." || level == ".." {
			return refuse(aquarium.ReasonTopic, "topic %q: level %q is no name: spell the topic out", cut(topic), level)
		}
	}
	return nil
}

// place finds what a topic under the prefix names. Both are empty where it
// names nothing that is configured.
func (r *Registry) place(topic string) (place, *refusal) {
	rest, ok := strings.CutPrefix(topic, r.prefix+"/")
	if !ok {
		return place{}, nil
	}
	id, rest, _ := strings.Cut(rest, "/")
	st := r.sites[aquarium.SiteID(id)]
	if st == nil {
		return place{}, nil
	}
	name, rest, deeper := strings.Cut(rest, "/")
	if aquarium.TankID(name) != aquarium.SiteWide {
		if deeper {
			return place{}, nil
		}
		return place{tank: st.tanks[aquarium.TankID(name)]}, nil
	}
	gateway, item, health := strings.Cut(rest, "/")
	if !deeper || health && item != "health" {
		return place{}, refuse(aquarium.ReasonTopic, "topic %q: a gateway has %s/%s/-/<gateway> and the same with /health", cut(topic), r.prefix, id)
	}
	if err := aquarium.CheckID(gateway); err != nil {
		return place{}, refuse(aquarium.ReasonTopic, "topic %q: gateway %v", cut(topic), err)
	}
	return place{site: aquarium.SiteID(id), gateway: aquarium.GatewayID(gateway), health: health}, nil
}
