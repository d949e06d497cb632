package channel

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"text/template"
)

// functions are what a template may call besides the language's own.
var functions = template.FuncMap{"json": asJSON}

// parse reads one template; urlquery is the language's own function.
func parse(name, source string) (*template.Template, error) {
	t, err := template.New(name).Funcs(functions).Parse(source)
	if err != nil {
		return nil, fmt.Errorf("%w: want text with .To, .Name, .Text, .Subject, .ID and the functions json and urlquery", err)
	}
	return t, nil
}

// asJSON is the value as JSON, quotes included. Signs of HTML stay as they are:
// this goes to no browser.
func asJSON(v any) (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "", err
	}
	return strings.TrimSuffix(b.String(), "\n"), nil
}

// contentType is what a body looks like.
func contentType(body []byte) string {
	switch {
	case json.Valid(body):
		return "application/json"
	case bytes.ContainsRune(body, '=') && !bytes.ContainsAny(body, " \n"):
		return "application/x-www-form-urlencoded"
	}
	return "text/plain; charset=utf-8"
}
