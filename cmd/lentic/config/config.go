package config

import (
	"crypto/tls"
	"log/slog"
	"time"

	"lentic/collector/aquarium"
)

// Defaults of keys that may be left out.
const (
	DefaultPrefix = "lentic"
	DefaultWeb    = "127.0.0.1:8420"
)

// Config is an accepted configuration. Nothing in it changes after Parse, so
// it may be read by many at once.
type Config struct {
	File   string // where it was read from, as given
	Source []byte // the very bytes, to be kept as the last accepted configuration

	Data      string // directory of the database; relative paths are the file's neighbours
	PublicURL string // scheme and host, without a slash at its end; empty: loopback only
	Prefix    string // first level of every topic
	Web       string // address of the pages and the API
	WebOpen   bool   // Web is not loopback: an account is needed before it listens
	MQTT      *MQTT  // our own broker; nil: none
	Broker    *Broker
	Heartbeat string // URL fetched each minute while all is well; empty: none

	People   []aquarium.Person
	Channels []Channel
	CallOut  aquarium.CallOut
	Sites    []aquarium.Site

	Warnings Problems // allowed, and worth a second look
}

// MQTT is the broker lentic runs itself.
type MQTT struct {
	Address     string
	WebSocket   bool
	Certificate *tls.Certificate // nil on loopback only
	Gateways    []Gateway        // none on loopback: anybody there may publish
}

// Gateway is a machine that may publish for its site.
type Gateway struct {
	ID       aquarium.GatewayID
	Site     aquarium.SiteID
	Password Secret
}

// Broker is somebody else's broker that lentic subscribes to.
type Broker struct {
	URL      string // mqtt, mqtts, ws or wss
	Username string
	Password Secret
	CA       []byte // PEM; nil: the system's
}

// Channel is one way to get a message out: exactly one of HTTP and SMTP is set.
type Channel struct {
	ID   aquarium.ChannelID
	HTTP *HTTP
	SMTP *SMTP
}

// HTTP is a provider that is asked by one request per message.
type HTTP struct {
	URL      string
	Method   string            // POST or PUT
	Headers  map[string]Secret // references to the environment resolved
	Body     string            // template; references to the environment resolved
	Accepted Accepted
	Secrets  []Secret // what came from the environment: never to be quoted
}

// Accepted is the answer that proves a message was taken. Zero values are not
// looked at, but for Status: 0 means any 2xx.
type Accepted struct {
	Status  int
	Pointer string // RFC 6901, into the answer's JSON; empty: the body is not looked at
	Equals  string // what stands there
}

// SMTP is a mail server.
type SMTP struct {
	Host     string
	Port     int // 587 where not given
	Username string
	Password Secret
	From     string
}

// Secret is a password or token. It prints as stars everywhere; only Reveal
// gives it away.
type Secret string

// Reveal is the secret itself.
func (s Secret) Reveal() string { return string(s) }

func (s Secret) String() string               { return stars(s) }
func (s Secret) GoString() string             { return stars(s) }
func (s Secret) MarshalText() ([]byte, error) { return []byte(stars(s)), nil }
func (s Secret) LogValue() slog.Value         { return slog.StringValue(stars(s)) }

func stars(s Secret) string {
	if s == "" {
		return ""
	}
	return "***"
}

// Site is the site of that id, or nil.
func (c *Config) Site(id aquarium.SiteID) *aquarium.Site {
	for i := range c.Sites {
		if c.Sites[i].ID == id {
			return &c.Sites[i]
		}
	}
	return nil
}

// Person is the person of that id, contacts of every site included; ok is
// false for nobody.
func (c *Config) Person(id aquarium.PersonID) (p aquarium.Person, ok bool) {
	for _, p := range c.People {
		if p.ID == id {
			return p, true
		}
	}
	for _, s := range c.Sites {
		for _, o := range s.Contacts {
			if o.ID == id {
				return aquarium.Person{ID: o.ID, Name: o.Name, Phone: o.Phone, Email: o.Email, Timezone: s.Timezone}, true
			}
		}
	}
	return aquarium.Person{}, false
}

// ParseTime reads a time as the command line takes it: RFC 3339, or a date,
// which is its midnight in UTC.
func ParseTime(s string) (aquarium.Instant, error) {
	for _, layout := range []string{time.RFC3339, time.DateOnly} {
		if t, err := time.Parse(layout, s); err == nil {
			return aquarium.At(t), nil
		}
	}
	return 0, &timeError{s}
}

type timeError struct{ s string }

func (e *timeError) Error() string {
	return "time " + quote(e.s) + ": want RFC 3339, as 2031-03-02T02:14:30Z, or a date, as 2031-03-02"
}
