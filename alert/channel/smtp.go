package channel

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	mail "github.com/wneessen/go-mail"

	"lentic/alert/rota"
	"lentic/collector/aquarium"
)

// SMTPOptions describe a mail server.
type SMTPOptions struct {
	Host     string
	Port     int    // 587 when zero; 465 speaks TLS from the first byte
	Username string // empty: no authentication
	Password string
	From     string
	// TLS holds the certificates that are trusted; the system's when nil.
	// The server's name is always checked.
	TLS *tls.Config
	// Now dates the mails; time.Now when nil.
	Now func() time.Time
}

// SMTP sends mails, one connection each. It may be used by several goroutines
// at once.
type SMTP struct {
	o    SMTPOptions
	tls  *tls.Config
	bare bool // loopback: nothing leaves the machine
}

// implicitTLS is the port that speaks TLS from the first byte (RFC 8314).
const implicitTLS = 465

// attemptLimit bounds an attempt whose context has no end of its own.
const attemptLimit = 30 * time.Second

// NewSMTP checks the options; it does not connect.
func NewSMTP(o SMTPOptions) (*SMTP, error) {
	if o.Host == "" {
		return nil, errors.New("smtp: host is missing")
	}
	if o.Port == 0 {
		o.Port = 587
	}
	if o.Port < 1 || o.Port > 65535 {
		return nil, fmt.Errorf("smtp: port %d: want 1 to 65535", o.Port)
	}
	if err := mail.NewMsg().From(o.From); err != nil {
		return nil, fmt.Errorf("smtp: from %q: want a mail address: %w", o.From, err)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	s := &SMTP{o: o, tls: &tls.Config{}, bare: loopback(o.Host) && o.TLS == nil}
	if o.TLS != nil {
		s.tls = o.TLS.Clone()
	}
	s.tls.ServerName, s.tls.InsecureSkipVerify = o.Host, false
	s.tls.MinVersion = max(s.tls.MinVersion, tls.VersionTLS12)
	return s, nil
}

// Address is the person's mail address.
func (s *SMTP) Address(p aquarium.Person) string { return p.Email }

// Send hands one mail to the server. The receipt is the server's answer to the
// mail as a whole.
func (s *SMTP) Send(ctx context.Context, m rota.Outgoing) (string, error) {
	msg, err := s.compose(m)
	if err != nil {
		return "", err
	}
	// The library keeps a connection open whose greeting failed, and knows a
	// deadline for dialling only: this one ends with the attempt.
	var line connection
	stop := context.AfterFunc(ctx, line.close)
	defer stop()
	defer line.close()
	client, err := s.client(ctx, &line)
	if err != nil {
		return "", err
	}
	if err := client.DialWithContext(ctx); err != nil {
		return "", fmt.Errorf("mail server %s: %w", s.o.Host, s.scrub(err))
	}
	err = client.Send(msg)
	receipt := msg.ServerResponse()
	// Once the server has the mail, how the goodbye goes changes nothing.
	_ = client.Close()
	if err != nil {
		return "", fmt.Errorf("mail server %s refused: %w", s.o.Host, s.scrub(err))
	}
	return strings.TrimSpace(receipt), nil
}

func (s *SMTP) compose(m rota.Outgoing) (*mail.Msg, error) {
	msg := mail.NewMsg(mail.WithCharset(mail.CharsetUTF8))
	if err := msg.From(s.o.From); err != nil {
		return nil, fmt.Errorf("from: %w", err)
	}
	if err := msg.To(m.To.Email); err != nil {
		return nil, fmt.Errorf("mail address of %q: %w", m.To.ID, err)
	}
	msg.Subject(strings.Join(strings.Fields(m.Subject), " ")) // a line break would begin another header
	msg.SetDateWithValue(s.o.Now())
	// The same message sent again has the same id, so that it can be told.
	msg.SetMessageIDWithValue(m.ID + "." + string(m.To.ID) + "@" + domain(s.o.From))
	msg.SetBodyString(mail.TypeTextPlain, m.Text)
	return msg, nil
}

func (s *SMTP) client(ctx context.Context, line *connection) (*mail.Client, error) {
	limit := attemptLimit
	if end, ok := ctx.Deadline(); ok {
		limit = max(time.Until(end), time.Millisecond)
	}
	opts := []mail.Option{
		mail.WithPort(s.o.Port), mail.WithTimeout(limit), mail.WithTLSConfig(s.tls),
		mail.WithTLSPolicy(s.policy()), mail.WithoutNoop(), mail.WithHELO("localhost"),
		mail.WithDialContextFunc(line.dial),
	}
	if s.o.Port == implicitTLS {
		line.tls = s.tls
		opts = append(opts, mail.WithSSL())
	}
	if s.o.Username != "" {
		auth := mail.SMTPAuthAutoDiscover
		if s.bare {
			auth = mail.SMTPAuthPlainNoEnc
		}
		opts = append(opts, mail.WithSMTPAuth(auth), mail.WithUsername(s.o.Username), mail.WithPassword(s.o.Password))
	}
	return mail.NewClient(s.o.Host, opts...)
}

func (s *SMTP) policy() mail.TLSPolicy {
	if s.bare {
		return mail.NoTLS
	}
	return mail.TLSMandatory
}

// scrub keeps the password out of what a server says.
func (s *SMTP) scrub(err error) error {
	if len(s.o.Password) < shortestSecret {
		return err
	}
	return scrubbed{err, secrets{s.o.Password}}
}

func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

func domain(address string) string {
	address = strings.TrimRight(address, "> ")
	if i := strings.LastIndexByte(address, '@'); i >= 0 {
		return address[i+1:]
	}
	return "localhost"
}
