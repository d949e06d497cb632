package config

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Set changes one value of a tank before a configuration is read, to try what
// it would do: `[SITE/]TANK.KEY.KEY=VALUE`, as atrium.limits.co2_mg_l=35 or
// quillmere-library/atrium:limits.ph=[6.0,8.4]. Keys are those of the file, and
// of a list of things with ids the id; the value is YAML.
type Set string

// setForm is a Set's parts. Ids have neither dots nor colons.
var setForm = regexp.MustCompile(`^(?:([^/.:=]*)/)?([^/.:=]+)[.:]([^=]*)=(.*)$`)

// ParseSet is Parse with changes. Mistakes in a change are told at its own
// column, in the file called --set.
func ParseSet(path string, src []byte, env Env, sets []Set) (*Config, Problems) {
	return parseWith(path, src, env, func(root *node) (ps Problems) {
		for _, s := range sets {
			if p := s.apply(root); p != nil {
				ps = append(ps, *p)
			}
		}
		return ps
	})
}

// apply changes the tree.
func (s Set) apply(root *node) *Problem {
	file := "--set " + string(s)
	bad := func(format string, a ...any) *Problem { return &Problem{File: file, Text: fmt.Sprintf(format, a...)} }
	m := setForm.FindStringSubmatchIndex(string(s))
	if m == nil {
		return bad("want TANK.KEY=VALUE or SITE/TANK.KEY=VALUE, as atrium.limits.co2_mg_l=35")
	}
	part := func(i int) string {
		if m[2*i] < 0 {
			return ""
		}
		return string(s[m[2*i]:m[2*i+1]])
	}
	tank, why := tankNode(root, part(1), part(2))
	if tank == nil {
		return bad("%s", why)
	}
	const asInFile = "want one as in the file: 35, [6.0, 8.4], { on: \"10:00\", off: \"18:00\" }"
	if strings.TrimSpace(part(4)) == "" {
		return bad("has no value: %s", asInFile)
	}
	value, err := parseTree([]byte(part(4)))
	if err != nil {
		p := bad("%v: %s", err, asInFile)
		if f, ok := err.(*fault); ok && f.line > 0 {
			p.Line, p.Column = 1, m[8]+f.col
		}
		return p
	}
	value.place(file, m[8])
	keys := strings.Split(part(3), ".")
	if i := slices.Index(keys, ""); i >= 0 {
		return bad("a key is empty: want keys with dots between them, as limits.co2_mg_l")
	}
	if keys[0] == "id" {
		return bad("a tank's id is its name: it cannot be tried")
	}
	if why := tank.put(keys, value); why != "" {
		return bad("%s", why)
	}
	return nil
}

// place says where a value that is not of the file stands: col is where it
// begins.
func (n *node) place(file string, col int) {
	n.file, n.line, n.col = file, 1, max(1, n.col)+col
	for i := range n.entries {
		n.entries[i].file = file
		n.entries[i].line, n.entries[i].col = 1, n.entries[i].col+col
		n.entries[i].value.place(file, col)
	}
	for _, v := range n.items {
		v.place(file, col)
	}
}

// tankNode finds a tank; without a site it must be the only one of that id.
func tankNode(root *node, site, tank string) (*node, string) {
	var found []*node
	var places, all []string
	for _, s := range root.list("sites") {
		if site != "" && s.textOf("id") != site {
			continue
		}
		for _, t := range s.list("tanks") {
			place := s.textOf("id") + "/" + t.textOf("id")
			all = append(all, place)
			if t.textOf("id") == tank {
				found, places = append(found, t), append(places, place)
			}
		}
	}
	switch {
	case len(found) == 1:
		return found[0], ""
	case len(found) > 1:
		return nil, fmt.Sprintf("tank %s is at several sites: want one of %s", short(tank), strings.Join(places, ", "))
	case site != "" && len(all) == 0:
		return nil, fmt.Sprintf("site %s is not configured, or has no tanks", short(site))
	case len(all) == 0:
		return nil, "no tank is configured"
	}
	if len(all) > 8 {
		all = append(all[:8], "...")
	}
	return nil, fmt.Sprintf("tank %s is not configured: want one of %s", short(tank), strings.Join(all, ", "))
}

// list is the items of a key, none where it has no list.
func (n *node) list(key string) []*node {
	if v := n.get(key); v != nil {
		return v.items
	}
	return nil
}

// textOf is the text of a key, "" where it has none.
func (n *node) textOf(key string) string {
	if v := n.get(key); v != nil {
		return v.text
	}
	return ""
}

// put sets the value under the keys, making mappings on the way to it. It says
// why it cannot.
func (n *node) put(keys []string, value *node) string {
	key := keys[0]
	if n.kind == list {
		i := slices.IndexFunc(n.items, func(v *node) bool { return v.textOf("id") == key })
		switch {
		case i < 0:
			return fmt.Sprintf("there is no %s in that list: want the id of one of its items", short(key))
		case len(keys) == 1:
			n.items[i] = value
			return ""
		}
		return n.items[i].put(keys[1:], value)
	}
	if n.kind != mapping {
		return fmt.Sprintf("%s is under %s, which has no keys", short(key), n.describe())
	}
	i := slices.IndexFunc(n.entries, func(e entry) bool { return e.key == key })
	if i < 0 {
		n.entries = append(n.entries, entry{key: key, file: value.file, line: value.line, col: value.col,
			value: &node{kind: mapping, file: value.file, line: value.line, col: value.col}})
		i = len(n.entries) - 1
	}
	e := &n.entries[i]
	if len(keys) == 1 {
		e.value = value
		return ""
	}
	if e.value.kind == empty {
		e.value.kind = mapping
	}
	return e.value.put(keys[1:], value)
}
