package config

import (
	"fmt"
	"strings"
)

// reader walks the tree, remembers where it is, and gathers every mistake.
type reader struct {
	file     string
	env      Env
	path     []string // the labels of what is being read, outermost first
	mistakes Problems
	warnings Problems
	secrets  []Secret // what the environment gave, in the order asked for
}

// bad adds a mistake at a node.
func (r *reader) bad(n *node, format string, a ...any) {
	r.mistakes = append(r.mistakes, r.problem(n, format, a...))
}

// warn adds a warning at a node.
func (r *reader) warn(n *node, format string, a ...any) {
	r.warnings = append(r.warnings, r.problem(n, format, a...))
}

func (r *reader) problem(n *node, format string, a ...any) Problem {
	text := fmt.Sprintf(format, a...)
	if len(r.path) > 0 {
		text = strings.Join(r.path, ", ") + ": " + text
	}
	p := Problem{File: r.file, Text: text}
	if n != nil {
		p.Line, p.Column = n.line, n.col
		if n.file != "" {
			p.File = n.file
		}
	}
	return p
}

// in reads something under a label.
func (r *reader) in(label string, read func()) {
	r.path = append(r.path, label)
	read()
	r.path = r.path[:len(r.path)-1]
}

// under reads a key's value under its name; a list of things with ids needs no
// name beside theirs.
func (r *reader) under(key string, v *node, read func()) {
	if v.kind == list && len(v.items) > 0 && v.items[0].get("id") != nil {
		read()
		return
	}
	r.in(key, read)
}

// field is one key of a mapping and what becomes of its value.
type field struct {
	key      string
	required bool
	read     func(n *node)
}

func may(key string, read func(n *node)) field  { return field{key, false, read} }
func must(key string, read func(n *node)) field { return field{key, true, read} }

// object reads a mapping: its fields in the order given, so that later ones
// may refer to earlier ones. Unknown, repeated and missing keys are mistakes.
func (r *reader) object(n *node, fields ...field) bool {
	if n.kind != mapping {
		known := make([]string, len(fields))
		for i, f := range fields {
			known[i] = f.key
		}
		r.bad(n, "%s: want keys and values, of %s", n.describe(), strings.Join(known, ", "))
		return false
	}
	r.keys(n, fields)
	for _, f := range fields {
		v := n.get(f.key)
		switch {
		case v == nil && f.required:
			r.bad(n, "%s is missing", f.key)
		case v == nil:
		case v.kind == empty:
			r.in(f.key, func() { r.bad(v, "has no value: give it one, or leave the key out") })
		default:
			r.under(f.key, v, func() { f.read(v) })
		}
	}
	return true
}

func (r *reader) keys(n *node, fields []field) {
	known := make([]string, len(fields))
	for i, f := range fields {
		known[i] = f.key
	}
	seen := map[string]int{}
	for _, e := range n.entries {
		place := e.place()
		if first, ok := seen[e.key]; ok {
			r.bad(place, "key %s is given twice, first in line %d", short(e.key), first)
			continue
		}
		seen[e.key] = e.line
		found := false
		for _, k := range known {
			found = found || k == e.key
		}
		if !found {
			r.bad(place, "unknown key %s%s", short(e.key), meant(e.key, known))
		}
	}
}

// each reads the items of a list.
func (r *reader) each(n *node, what string, read func(i int, n *node)) {
	if n.kind != list {
		r.bad(n, "%s: want a list of %s", n.describe(), what)
		return
	}
	for i, item := range n.items {
		read(i, item)
	}
}

// describe says what a node is, for messages.
func (n *node) describe() string {
	switch n.kind {
	case scalar:
		return short(n.text)
	case list:
		return "a list"
	case mapping:
		return "keys and values"
	}
	return "no value"
}

// short quotes a text, cut where it is long.
func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "..."
	}
	return quote(s)
}
