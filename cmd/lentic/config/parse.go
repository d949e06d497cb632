package config

import (
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"lentic/alert/text"
	"lentic/collector/aquarium"
)

// parse is the walk through one file: the reader, and what later parts refer
// to.
type parse struct {
	*reader
	c        *Config
	channels map[string]*Channel
	people   map[string]bool
	contacts map[string]bool
	sites    map[string]*siteIndex
	nodes    map[string]*node // places of what is checked once all is read
}

// Parse is Load for bytes already read, as the last accepted configuration is;
// path is where they came from, for messages and for the files they name.
func Parse(path string, src []byte, env Env) (*Config, Problems) {
	return parseWith(path, src, env, func(*node) Problems { return nil })
}

// parseWith lets the tree be changed before it is read.
func parseWith(path string, src []byte, env Env, change func(root *node) Problems) (*Config, Problems) {
	root, err := parseTree(src)
	if err != nil {
		p := Problem{File: path, Text: err.Error()}
		if f, ok := err.(*fault); ok {
			p.Line, p.Column = f.line, f.col
		}
		return nil, Problems{p}
	}
	changed := change(root)
	p := &parse{
		reader:   &reader{file: path, env: env},
		c:        &Config{File: path, Source: src, Prefix: DefaultPrefix, Web: DefaultWeb, CallOut: aquarium.CallOut{}},
		channels: map[string]*Channel{}, people: map[string]bool{}, contacts: map[string]bool{},
		sites: map[string]*siteIndex{}, nodes: map[string]*node{},
	}
	p.c.Data = p.beside("data")
	p.root(root)
	if p.mistakes = append(changed, p.mistakes...); len(p.mistakes) > 0 {
		return nil, p.mistakes.sorted()
	}
	text.Shorten(p.c.Sites)
	p.look()
	p.c.Warnings = p.warnings.sorted()
	return p.c, nil
}

// root reads the file's own keys. Sites come before what names them, channels
// before people's ladders.
func (p *parse) root(n *node) {
	ok := p.object(n,
		may("data", func(n *node) { p.c.Data = p.beside(p.line(n)) }),
		may("public_url", p.publicURL),
		may("prefix", p.prefix),
		may("heartbeat", func(n *node) { p.c.Heartbeat = p.webURL(n) }),
		may("channels", p.channelList),
		must("sites", p.siteList),
		may("people", p.peopleList),
		may("listen", p.listen),
		may("broker", p.broker),
		may("call_out", p.callOut),
	)
	if !ok {
		return
	}
	p.whole(n)
}

// whole checks what only the whole file can tell.
func (p *parse) whole(n *node) {
	listen, broker := n.get("listen"), n.get("broker")
	if p.c.MQTT != nil && p.c.Broker != nil {
		p.bad(broker, "broker and listen.mqtt are both given: want one of them; readings come by one way")
	}
	if p.c.WebOpen && p.c.PublicURL == "" && n.get("public_url") == nil {
		p.bad(listen.get("web"), "listen, web: %s can be reached from other machines: want public_url too, the one name that is answered, or a loopback address as %s", short(p.c.Web), DefaultWeb)
	}
	zone := time.UTC
	if len(p.c.Sites) > 0 && p.c.Sites[0].Timezone != nil {
		zone = p.c.Sites[0].Timezone
	}
	for i := range p.c.People {
		if p.c.People[i].Timezone == nil {
			p.c.People[i].Timezone = zone
		}
	}
	p.topics()
}

// beside is a path as seen from the file's own directory.
func (p *parse) beside(path string) string {
	if path == "" || filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(p.file), path)
}

func (p *parse) publicURL(n *node) {
	s := p.line(n)
	u, err := url.Parse(s)
	switch {
	case err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http":
		p.bad(n, "%s is no web address: want one as https://watch.example.net", short(s))
	case u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "" || u.User != nil:
		p.bad(n, "%s: want scheme and host only, as https://watch.example.net", short(s))
	case u.Scheme == "http" && !loopbackHost(u.Hostname()):
		p.bad(n, "%s would carry passwords in the clear: want https", short(s))
	case !hostName.MatchString(u.Host):
		p.bad(n, "%s: want a host of plain letters, digits, dots and hyphens, for it is sent in texts", short(s))
	default:
		p.c.PublicURL = strings.ToLower(u.Scheme + "://" + u.Host)
	}
}

var (
	hostName   = regexp.MustCompile(`^[A-Za-z0-9.:\[\]-]+$`)
	prefixName = regexp.MustCompile(`^[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*$`)
)

func (p *parse) prefix(n *node) {
	s, ok := p.text(n)
	if !ok {
		return
	}
	if len(s) > 64 || !prefixName.MatchString(s) {
		p.bad(n, "%s: want the first levels of a topic, of letters, digits, hyphens and slashes between them, as lentic", short(s))
		return
	}
	p.c.Prefix = s
}

// webURL is an address that is fetched: https, or http on loopback. It may hold
// a token, so it is never quoted.
func (p *parse) webURL(n *node) string {
	s := p.expand(n)
	if s == "" {
		return ""
	}
	u, err := url.Parse(strings.NewReplacer("{{", "", "}}", "", " ", "").Replace(s))
	switch {
	case err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http":
		p.bad(n, "want a web address, as https://sms.example.net/send")
	case u.Scheme == "http" && !loopbackHost(u.Hostname()):
		p.bad(n, "http would carry it in the clear: want https; http is for loopback only")
	default:
		return s
	}
	return ""
}
