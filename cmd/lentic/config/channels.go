package config

import (
	"net/http"
	"slices"
	"strings"

	"lentic/alert/channel"
	"lentic/collector/aquarium"

	"golang.org/x/net/http/httpguts"
)

func (p *parse) channelList(n *node) {
	seen := map[string]bool{}
	p.each(n, "channels", func(_ int, n *node) {
		p.in(label("channel", n), func() {
			c := p.channel(n, seen)
			if c.ID != "" {
				p.channels[string(c.ID)] = &c
			}
			p.c.Channels = append(p.c.Channels, c)
		})
	})
}

// channel reads the kind first: it decides which keys there are.
func (p *parse) channel(n *node, seen map[string]bool) (c Channel) {
	id := must("id", func(n *node) { c.ID = aquarium.ChannelID(p.fresh(n, seen)) })
	what := ""
	if k := n.get("kind"); k != nil && k.kind == scalar {
		what = k.text
	}
	kind := must("kind", func(n *node) { p.oneOf(n, "http", "smtp") })
	switch what {
	case "http":
		c.HTTP = p.http(n, id, kind)
	case "smtp":
		c.SMTP = p.smtp(n, id, kind)
	default:
		// Which of the other keys are right cannot be told.
		var others []field
		for _, e := range n.entries {
			if e.key != "id" && e.key != "kind" {
				others = append(others, may(e.key, func(*node) {}))
			}
		}
		p.object(n, append(others, id, kind)...)
		c.HTTP = &HTTP{} // so that nothing else is said about it
	}
	return c
}

func (p *parse) http(n *node, id, kind field) *HTTP {
	h := &HTTP{Method: http.MethodPost, Headers: map[string]Secret{}}
	before := len(p.secrets)
	p.object(n, id, kind,
		must("url", func(n *node) { h.URL = p.webURL(n) }),
		may("method", func(n *node) { h.Method = p.oneOf(n, http.MethodPost, http.MethodPut) }),
		may("headers", func(n *node) { p.headers(n, h) }),
		must("body", func(n *node) {
			if n.kind != scalar || n.text != "" {
				h.Body = p.expand(n)
			}
		}),
		may("accepted", func(n *node) { p.accepted(n, h) }),
	)
	if n.get("accepted") == nil {
		p.warn(n, "without accepted, any answer of 200 to 299 counts as taken: a provider that answers 200 with an error in it would not be noticed")
	}
	h.Secrets = slices.Clone(p.secrets[before:])
	p.templates(n, h)
	return h
}

// templates tries url and body with values that hold quotes and newlines.
func (p *parse) templates(n *node, h *HTTP) {
	at := n.get("body")
	if at == nil || at.kind != scalar {
		return
	}
	address := h.URL
	if address == "" {
		address = "http://127.0.0.1/" // its own mistake has been told
	}
	_, err := channel.NewHTTP(channel.HTTPOptions{URL: address, Body: h.Body})
	if err == nil {
		return
	}
	if strings.HasPrefix(err.Error(), "url") || strings.Contains(err.Error(), "template: url") {
		// The address may hold a token, so the error that quotes it is not shown.
		p.bad(n.get("url"), "url: its template fails: want {{.To}} or {{.Text}} with the functions json and urlquery")
		return
	}
	p.bad(at, "body: %v: want values as {{json .To}} and {{json .Text}}", err)
}

func (p *parse) headers(n *node, h *HTTP) {
	if n.kind != mapping {
		p.bad(n, "%s: want names and values, as { Authorization: \"Bearer ${SMS_TOKEN}\" }", n.describe())
		return
	}
	for _, e := range n.entries {
		p.in(e.key, func() {
			if !httpguts.ValidHeaderFieldName(e.key) {
				p.bad(e.place(), "is no name of a header")
				return
			}
			if _, twice := h.Headers[http.CanonicalHeaderKey(e.key)]; twice {
				p.bad(e.place(), "header is given twice")
			}
			v := p.expand(e.value)
			if !httpguts.ValidHeaderFieldValue(v) {
				p.bad(e.value, "the value holds characters that no header may have")
			}
			if http.CanonicalHeaderKey(e.key) == "Authorization" && e.value.kind == scalar && !reference.MatchString(e.value.text) {
				p.bad(e.value, "a secret does not belong in this file: want ${NAME} from the environment")
			}
			h.Headers[http.CanonicalHeaderKey(e.key)] = Secret(v)
		})
	}
}

func (p *parse) accepted(n *node, h *HTTP) {
	p.object(n,
		may("status", func(n *node) { h.Accepted.Status = int(p.number(n, 100, 599, "a status")) }),
		may("pointer", func(n *node) { h.Accepted.Pointer = p.pointer(n) }),
		may("equals", func(n *node) { h.Accepted.Equals, _ = p.text(n) }),
	)
	if e := n.get("equals"); e != nil && n.get("pointer") == nil {
		p.bad(e, "equals without pointer: want the place in the answer too, as pointer: /status")
	}
}

// pointer is one of RFC 6901.
func (r *reader) pointer(n *node) string {
	s, ok := r.text(n)
	if !ok {
		return ""
	}
	rest := strings.NewReplacer("~0", "", "~1", "").Replace(s)
	if !strings.HasPrefix(s, "/") || strings.Contains(rest, "~") {
		r.bad(n, "%s is no pointer of RFC 6901: want one as /status, with ~1 for / and ~0 for ~ in a name", short(s))
		return ""
	}
	return s
}

func (p *parse) smtp(n *node, id, kind field) *SMTP {
	s := &SMTP{Port: 587}
	p.object(n, id, kind,
		must("host", func(n *node) {
			s.Host = p.line(n)
			if !hostName.MatchString(s.Host) {
				p.bad(n, "%s is no host: want one as mail.example.net", short(s.Host))
			}
		}),
		may("port", func(n *node) {
			s.Port = int(p.number(n, 1, 65535, "a port"))
		}),
		may("username", func(n *node) { s.Username = p.expand(n) }),
		may("password", func(n *node) { p.password(n, &s.Password) }),
		may("password_file", func(n *node) { p.passwordFile(n, &s.Password) }),
		must("from", func(n *node) { s.From = p.email(n) }),
	)
	p.oneSecret(n)
	if n.get("username") != nil && n.get("password") == nil && n.get("password_file") == nil {
		p.bad(n.get("username"), "username without a password: want password_file, or password: ${NAME}")
	}
	return s
}
