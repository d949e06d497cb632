package channel

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"text/template"

	"lentic/alert/rota"
	"lentic/collector/aquarium"
)

// answerLimit bounds how much of an answer is read, quoteLimit how much of it
// is quoted.
const (
	answerLimit = 64 << 10
	quoteLimit  = 200
)

// HTTPOptions describe a provider of texts.
type HTTPOptions struct {
	// URL and Body are templates (package text/template) over .To, .Name,
	// .Text, .Subject and .ID, with the functions json and urlquery.
	URL, Body string
	// Method is POST when empty.
	Method string
	// Headers are sent as they stand. Content-Type is that of JSON, of a
	// form or of plain text, as the body looks, unless given.
	Headers  map[string]string
	Accepted Accepted
	// Secrets are cut out of what is quoted, beside the headers' values and
	// what the URL itself holds: its user and password, and those parts of
	// path and query that are the same in every message.
	Secrets []string
	// Client sends the requests; a client of its own when nil.
	Client *http.Client
}

// HTTP sends texts by one request each. It may be used by several goroutines
// at once.
type HTTP struct {
	o         HTTPOptions
	url, body *template.Template
	client    http.Client
	secrets   secrets // of every message
}

// values is what templates get: plain strings only.
type values struct{ To, Name, Text, Subject, ID string }

// NewHTTP checks the templates with trial values. Its errors name the template
// and the place in it.
func NewHTTP(o HTTPOptions) (*HTTP, error) {
	h := &HTTP{o: o}
	if h.o.Method == "" {
		h.o.Method = http.MethodPost
	}
	var err error
	if h.url, err = parse("url", o.URL); err != nil {
		return nil, err
	}
	if h.body, err = parse("body", o.Body); err != nil {
		return nil, err
	}
	if err := o.Accepted.check(); err != nil {
		return nil, err
	}
	if o.Client != nil {
		h.client = *o.Client
	}
	// A redirect would carry the token to wherever it points.
	h.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	trial := values{To: "+447700900000", Name: `"`, Text: "\n", Subject: "a&b", ID: "0"}
	one, err := h.request(context.Background(), trial)
	if err != nil {
		return h, err
	}
	other, err := h.request(context.Background(), values{To: "+447700900001", Name: "b", Text: "b", Subject: "b", ID: "1"})
	if err != nil {
		return h, err
	}
	h.secrets = forms(append(constant(one, other), o.Secrets...))
	return h, nil
}

// Address is the person's phone number.
func (h *HTTP) Address(p aquarium.Person) string { return p.Phone }

// Send makes one request. The receipt is the provider's status and the first
// characters of its answer.
func (h *HTTP) Send(ctx context.Context, m rota.Outgoing) (string, error) {
	cut := h.secrets.and(m.To.Phone, strings.TrimPrefix(m.To.Phone, "+"))
	r, err := h.request(ctx, values{To: m.To.Phone, Name: m.To.Name, Text: m.Text, Subject: m.Subject, ID: m.ID})
	if err != nil {
		return "", scrubbed{err, cut}
	}
	resp, err := h.client.Do(r)
	if err != nil {
		return "", fmt.Errorf("provider not reached: %w", scrubbed{bare(err), cut})
	}
	defer resp.Body.Close()
	answer, err := io.ReadAll(io.LimitReader(resp.Body, answerLimit))
	receipt := resp.Status + ": " + cut.quote(answer)
	if err != nil {
		return "", fmt.Errorf("provider broke off after %s: %w", receipt, scrubbed{bare(err), cut})
	}
	if why := h.o.Accepted.judge(resp.StatusCode, answer); why != "" {
		return "", fmt.Errorf("provider refused, %s: it answered %s", cut.cut(why), receipt)
	}
	return receipt, nil
}

func (h *HTTP) request(ctx context.Context, v values) (*http.Request, error) {
	var to, body bytes.Buffer
	if err := h.url.Execute(&to, v); err != nil {
		return nil, err
	}
	if err := h.body.Execute(&body, v); err != nil {
		return nil, err
	}
	u, err := url.Parse(strings.TrimSpace(to.String()))
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, errors.New("url: want http:// or https:// with a host")
	}
	r, err := http.NewRequestWithContext(ctx, h.o.Method, u.String(), &body)
	if err != nil {
		return nil, fmt.Errorf("url: %w", bare(err))
	}
	if body.Len() > 0 {
		r.Header.Set("Content-Type", contentType(body.Bytes()))
	}
	for k, v := range h.o.Headers {
		r.Header.Set(k, v)
	}
	return r, nil
}

// bare is the reason inside an error that names the whole address, token and
// all.
func bare(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}
