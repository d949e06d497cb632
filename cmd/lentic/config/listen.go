package config

import (
	"crypto/tls"
	"crypto/x509"
	"net"
	"net/url"
	"strconv"
	"strings"

	"lentic/collector/aquarium"
)

func (p *parse) listen(n *node) {
	p.object(n,
		may("web", func(n *node) {
			if s, open, ok := p.address(n); ok {
				p.c.Web, p.c.WebOpen = s, open
			}
		}),
		may("mqtt", p.mqtt),
	)
}

// address is host and port to listen on; open reports that other machines may
// reach it.
func (p *parse) address(n *node) (s string, open, ok bool) {
	if s, ok = p.text(n); !ok {
		return "", false, false
	}
	host, port, err := net.SplitHostPort(s)
	if err == nil {
		_, err = strconv.ParseUint(port, 10, 16)
	}
	if err != nil || host != "" && host != "localhost" && net.ParseIP(strings.Split(host, "%")[0]) == nil {
		p.bad(n, "%s is no address to listen on: want IP address and port, as 127.0.0.1:8420", short(s))
		return "", false, false
	}
	return s, !loopbackHost(host), true
}

// loopbackHost reports whether a host is this machine and can be no other.
func loopbackHost(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

func (p *parse) mqtt(n *node) {
	m := &MQTT{}
	open, known := false, false
	if n.kind != mapping {
		m.Address, open, known = p.address(n)
		if open {
			p.bad(n, "%s can be reached from other machines: want { address, cert, key, gateways }, so that it speaks TLS and knows its gateways; or a loopback address as 127.0.0.1:1883", short(m.Address))
		}
		if known && !open {
			p.c.MQTT = m
		}
		return
	}
	p.object(n,
		must("address", func(n *node) { m.Address, open, known = p.address(n) }),
		may("websocket", func(n *node) { m.WebSocket = p.boolean(n) }),
		may("cert", func(*node) {}),
		may("key", func(*node) {}),
		may("gateways", func(n *node) { p.gateways(n, m) }),
	)
	p.certificate(n, m)
	if known && open {
		if n.get("cert") == nil || n.get("key") == nil {
			p.bad(n, "%s can be reached from other machines: want cert and key, so that it speaks TLS", short(m.Address))
		}
		if g := n.get("gateways"); g == nil || len(g.items) == 0 {
			p.bad(n, "%s can be reached from other machines: want gateways with their passwords", short(m.Address))
		}
	}
	p.c.MQTT = m
}

func (p *parse) certificate(n *node, m *MQTT) {
	cert, key := n.get("cert"), n.get("key")
	switch {
	case cert == nil && key == nil:
		return
	case cert == nil:
		p.bad(key, "key without cert: want both")
		return
	case key == nil:
		p.bad(cert, "cert without key: want both")
		return
	}
	var c, k []byte
	p.in("cert", func() { c = p.bytes(cert, maxPEM) })
	p.in("key", func() { k = p.bytes(key, maxPEM) })
	if c == nil || k == nil {
		return
	}
	pair, err := tls.X509KeyPair(c, k)
	if err != nil {
		p.bad(cert, "cert and key do not make a pair: want PEM files that belong together (%v)", err)
		return
	}
	m.Certificate = &pair
}

func (p *parse) gateways(n *node, m *MQTT) {
	seen := map[string]bool{}
	p.each(n, "gateways", func(_ int, n *node) {
		var g Gateway
		p.in(label("gateway", n), func() {
			p.object(n,
				must("id", func(n *node) { g.ID = aquarium.GatewayID(p.fresh(n, seen)) }),
				must("site", func(n *node) {
					s := p.id(n)
					if s != "" && p.sites[s] == nil {
						p.bad(n, "site %s is not configured%s", short(s), meant(s, known(p.sites)))
					}
					g.Site = aquarium.SiteID(s)
				}),
				may("password", func(n *node) { p.password(n, &g.Password) }),
				may("password_file", func(n *node) { p.passwordFile(n, &g.Password) }),
			)
			p.oneSecret(n)
			if n.kind == mapping && n.get("password") == nil && n.get("password_file") == nil {
				p.bad(n, "password_file is missing: want one, or password: ${NAME}")
			}
		})
		m.Gateways = append(m.Gateways, g)
	})
}

// broker is somebody else's broker.
func (p *parse) broker(n *node) {
	b := &Broker{}
	p.object(n,
		must("url", func(n *node) { b.URL = p.brokerURL(n) }),
		may("username", func(n *node) { b.Username = p.expand(n) }),
		may("password", func(n *node) { p.password(n, &b.Password) }),
		may("password_file", func(n *node) { p.passwordFile(n, &b.Password) }),
		may("ca_file", func(n *node) {
			b.CA = p.bytes(n, maxPEM)
			if b.CA != nil && !x509.NewCertPool().AppendCertsFromPEM(b.CA) {
				p.bad(n, "file %s holds no certificate: want PEM", short(n.text))
			}
		}),
	)
	p.oneSecret(n)
	u, err := url.Parse(b.URL)
	if err == nil && b.URL != "" && (u.Scheme == "mqtt" || u.Scheme == "ws") && !loopbackHost(u.Hostname()) {
		if b.Password != "" {
			p.bad(n.get("url"), "url: %s would carry the password in the clear: want mqtts or wss", u.Scheme)
		} else {
			p.warn(n.get("url"), "broker, url: %s carries readings in the clear: mqtts or wss do not", u.Scheme)
		}
	}
	p.c.Broker = b
}

func (p *parse) brokerURL(n *node) string {
	s := p.expand(n)
	u, err := url.Parse(s)
	schemes := []string{"mqtts", "mqtt", "wss", "ws"}
	switch {
	case s == "":
	case err != nil || u.Host == "":
		p.bad(n, "want the broker's address, as mqtts://broker.example.net:8883")
	case u.User != nil:
		p.bad(n, "a password does not belong in the address: want username and password_file")
	case !contains(schemes, u.Scheme):
		p.bad(n, "scheme %s is unknown%s", short(u.Scheme), meant(u.Scheme, schemes))
	default:
		return s
	}
	return ""
}
