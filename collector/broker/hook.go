package broker

import (
	"errors"
	"fmt"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"lentic/collector/aquarium"
	"lentic/collector/wire"
)

// hook is where the library asks us. It keeps the protocol; what is published
// never goes further into it than here, as a packet just read: its own hook for
// publishing wants it rejected, and copies each packet into a log nobody reads.
type hook struct {
	mqtt.HookBase
	b *Broker
}

func (*hook) ID() string { return "lentic" }

func (*hook) Provides(b byte) bool {
	switch b {
	case mqtt.OnConnectAuthenticate, mqtt.OnACLCheck, mqtt.OnSessionEstablish, mqtt.OnSessionEstablished,
		mqtt.OnDisconnect, mqtt.OnPacketRead, mqtt.OnWill, mqtt.OnWillSent, mqtt.OnClientExpired:
		return true
	}
	return false
}

// OnConnectAuthenticate lets gateways in by their password, and everybody where
// there are none.
func (h *hook) OnConnectAuthenticate(cl *mqtt.Client, pk packets.Packet) bool {
	g, ok := h.b.known(pk.Connect.Username, pk.Connect.Password)
	if !ok {
		h.b.tally.logins.Inc()
		h.b.opt.Log.Warn("refused to let a device in: no gateway has that user name and password", "remote", host(cl.Net.Remote))
		return false
	}
	k := cl.Net.Conn.(*link)
	k.conn.Store(newConn(cl, k, g, h.b.opt.MaxPending))
	return true
}

// OnACLCheck lets nobody subscribe. Publishing is judged in OnPacketRead, where
// it can be refused and acknowledged.
func (*hook) OnACLCheck(*mqtt.Client, string, bool) bool { return false }

// OnSessionEstablish finds or makes the client's session.
func (h *hook) OnSessionEstablish(cl *mqtt.Client, pk packets.Packet) {
	b := h.b
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.sessions[cl.ID]
	if s == nil || pk.Connect.Clean {
		fresh := newSession()
		if s != nil {
			fresh.conn = s.conn // to wait for
		}
		s = fresh
		b.sessions[cl.ID] = s
	}
	of(cl).session = s
}

// takeover bounds the wait for an older connection of the same client.
const takeover = 5 * time.Second

// OnSessionEstablished starts the writing of acknowledgements. Where the client
// has an older connection, which the library has just closed, that one's Will
// comes first: `absent` must not follow the `present` that this one will say.
func (h *hook) OnSessionEstablished(cl *mqtt.Client, _ packets.Packet) {
	b, c := h.b, of(cl)
	b.mu.Lock()
	old := c.session.conn
	c.session.conn = c
	b.mu.Unlock()
	if old != nil {
		limit := time.NewTimer(takeover)
		defer limit.Stop()
		select {
		case <-old.gone:
		case <-limit.C:
		case <-b.stopping:
		}
	}
	b.ackers.Go(c.acknowledge)
}

// OnDisconnect forgets the session where MQTT says so, and says why where the
// device is to blame.
func (h *hook) OnDisconnect(cl *mqtt.Client, err error, expire bool) {
	b, c := h.b, of(cl)
	b.mu.Lock()
	if s := c.session; expire && s != nil && s.conn == c && b.sessions[cl.ID] == s {
		delete(b.sessions, cl.ID)
	}
	b.mu.Unlock()
	h.blame(c, err)
}

// blame keeps a refusal for what made us close the connection.
func (h *hook) blame(c *conn, err error) {
	m := wire.Message{}
	switch {
	case errors.Is(err, packets.ErrPacketTooLarge):
		h.b.tally.closed.WithLabelValues(string(aquarium.ReasonSize)).Inc()
		m.Refuse, m.Why = aquarium.ReasonSize, fmt.Sprintf("a packet larger than the %d bytes of payload that are taken: the connection was closed", wire.MaxTaken)
	case errors.Is(err, packets.ErrMalformedTopic):
		h.b.tally.closed.WithLabelValues(string(aquarium.ReasonTopic)).Inc()
		m.Refuse, m.Why = aquarium.ReasonTopic, "a topic with NUL or not in UTF-8: MQTT wants the connection closed, and it was"
	default:
		return
	}
	h.offer(c, m, nil)
}

// OnClientExpired forgets the session of a client that stayed away.
func (h *hook) OnClientExpired(cl *mqtt.Client) {
	h.b.mu.Lock()
	defer h.b.mu.Unlock()
	if s := h.b.sessions[cl.ID]; s != nil && s.conn != nil && s.conn.cl == cl {
		delete(h.b.sessions, cl.ID)
	}
}

// nothing is a packet that the library ignores: the acknowledgement of a
// message it never sent.
var nothing = packets.Packet{FixedHeader: packets.FixedHeader{Type: packets.Puback}}

// OnPacketRead takes what is published, and answers PUBREL, whose state is in
// the session. A publish that breaks the protocol is left to the library, which
// closes the connection; not so for the name of its topic, which is refused and
// acknowledged like anything else that is refused.
func (h *hook) OnPacketRead(cl *mqtt.Client, pk packets.Packet) (packets.Packet, error) {
	c := of(cl)
	if c == nil {
		return pk, nil // CONNECT
	}
	switch pk.FixedHeader.Type {
	case packets.Pubrel:
		c.complete(pk.PacketID, c.session.release(pk.PacketID))
		return nothing, nil
	case packets.Publish:
		if len(pk.Payload) > wire.MaxTaken {
			h.b.tally.closed.WithLabelValues(string(aquarium.ReasonSize)).Inc()
			h.offer(c, wire.Message{Topic: pk.TopicName, Payload: pk.Payload[:wire.MaxTaken], Refuse: aquarium.ReasonSize,
				Why: fmt.Sprintf("the payload has %d bytes, more than the %d that are taken: the connection was closed", len(pk.Payload), wire.MaxTaken)}, nil)
			return pk, packets.ErrRejectPacket
		}
		if lawful(&pk) {
			h.publish(c, &pk)
			return nothing, nil
		}
	}
	return pk, nil
}

// lawful reports whether a publish has a packet id if and only if it needs one,
// and nothing that was not agreed on (MQTT 5, section 3.3.2).
func lawful(pk *packets.Packet) bool {
	return (pk.FixedHeader.Qos == 0) == (pk.PacketID == 0) &&
		!pk.Properties.TopicAliasFlag && len(pk.Properties.SubscriptionIdentifier) == 0
}

// publish hands one message on, and owes its acknowledgement.
func (h *hook) publish(c *conn, pk *packets.Packet) {
	m := wire.Message{Topic: pk.TopicName, Payload: pk.Payload, QoS: pk.FixedHeader.Qos}
	if !c.await(h.b.stopping) {
		return
	}
	switch m.QoS {
	case 0:
		h.offer(c, m, nil)
	case 1:
		n := c.owe(packets.Puback, pk.PacketID)
		if !h.offer(c, m, func() { c.tell(n) }) {
			c.disown()
		}
	case 2:
		n := c.owe(packets.Pubrec, pk.PacketID)
		stored := c.session.take(pk.PacketID, func() { c.tell(n) })
		if stored != nil && !h.offer(c, m, stored) {
			c.session.release(pk.PacketID) // it comes again, as if for the first time
			c.disown()
		}
	}
}

// offer names the sender and checks what it may. It is false when the broker is
// stopping or pausing: the message is then not taken, and its sender will send
// it again.
func (h *hook) offer(c *conn, m wire.Message, done func()) bool {
	select {
	case <-h.b.stopping:
		return false
	default:
	}
	if h.b.paused.Load() {
		return false
	}
	m.Arrived = aquarium.At(h.b.opt.Now())
	m.Source = c.source
	if g := c.gateway; g != nil {
		m.Gateway = g.ID
		if m.Refuse == "" && h.b.opt.May != nil && !h.b.opt.May(g.Site, m.Topic) && wire.CheckTopic(m.Topic) == nil {
			m.Refuse = aquarium.ReasonForeign
			m.Why = fmt.Sprintf("gateway %s belongs to site %s and may publish under it, and on the topics its sensors name", g.ID, g.Site)
		}
	}
	h.b.opt.Offer(h.b.offering, m, done)
	return true
}

// OnWill leaves nothing for the library to keep or to deliver.
func (*hook) OnWill(_ *mqtt.Client, will mqtt.Will) (mqtt.Will, error) {
	will.Retain = false
	return will, nil
}

// OnWillSent takes a Will as if it had been published. It comes after the
// connection's own messages. That lentic stops or pauses says nothing about the
// gateway, not even where the pause is over when its Will comes here.
func (h *hook) OnWillSent(cl *mqtt.Client, pk packets.Packet) {
	c := of(cl)
	if c.link.paused.Load() {
		return
	}
	h.offer(c, wire.Message{Topic: pk.TopicName, Payload: pk.Payload, QoS: pk.FixedHeader.Qos}, nil)
}
