package config

import (
	"regexp"
	"strings"
)

// maxSecret bounds a file that holds one password, and maxPEM a file of
// certificates.
const (
	maxSecret = 4 << 10
	maxPEM    = 1 << 20
)

var reference = regexp.MustCompile(`\$\{([^}]*)\}`)

var envName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)

// expand puts the environment's values in the place of ${NAME}. A missing one
// is a mistake and the result is "". Values are never quoted in messages.
func (r *reader) expand(n *node) string {
	s, ok := r.text(n)
	if !ok {
		return ""
	}
	whole := true
	s = reference.ReplaceAllStringFunc(s, func(m string) string {
		name := m[2 : len(m)-1]
		if !envName.MatchString(name) {
			r.bad(n, "%s: want the name of an environment variable between the braces", short(m))
			whole = false
			return ""
		}
		v := r.env.Getenv(name)
		if v == "" {
			r.bad(n, "the environment has no %s: set it where lentic is started", name)
			whole = false
		}
		r.secrets = append(r.secrets, Secret(v))
		return v
	})
	if strings.TrimSpace(s) == "" && whole {
		r.bad(n, "is empty: give it a value, or leave the key out")
	}
	if !whole {
		return ""
	}
	return s
}

// password is `password`, which must refer to the environment: what stands in
// the file is read by everyone who may read the file.
func (r *reader) password(n *node, into *Secret) {
	s, ok := r.text(n)
	if !ok {
		return
	}
	if !reference.MatchString(s) {
		r.bad(n, "a password does not belong in this file: want ${NAME} from the environment, or password_file")
		return
	}
	*into = Secret(r.expand(n))
}

// passwordFile is `password_file`: the first line of a file.
func (p *parse) passwordFile(n *node, into *Secret) {
	b := p.bytes(n, maxSecret)
	if b == nil {
		return
	}
	s := strings.TrimRight(string(b), "\r\n")
	switch {
	case s == "":
		p.bad(n, "file %s is empty: want the password in it", short(n.text))
	case strings.ContainsAny(s, "\r\n\x00"):
		p.bad(n, "file %s has more than one line: want the password alone", short(n.text))
	default:
		*into = Secret(s)
	}
}

// bytes reads a file that the configuration names; nil after a mistake.
func (p *parse) bytes(n *node, limit int) []byte {
	path := p.line(n)
	if path == "" {
		return nil
	}
	b, err := p.env.ReadFile(p.beside(path))
	switch {
	case err != nil:
		p.bad(n, "file cannot be read: %s", plainError(err))
		return nil
	case len(b) > limit:
		p.bad(n, "file %s has %d bytes: at most %d are read", short(path), len(b), limit)
		return nil
	case b == nil:
		return []byte{}
	}
	return b
}

// oneSecret checks that a password is given in one way only.
func (r *reader) oneSecret(n *node) {
	if a, b := n.get("password"), n.get("password_file"); a != nil && b != nil {
		r.bad(b, "password and password_file are both given: want one of them")
	}
}
