package config

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Bounds of a file, far above any that people write: they keep aliases that
// multiply and brackets without end from costing more than a message.
const (
	maxBytes = 1 << 20
	maxNodes = 200_000
	maxDepth = 40
)

// kind is what a node is.
type kind int

const (
	empty kind = iota
	scalar
	list
	mapping
)

// node is one value of the file and its place, aliases followed.
type node struct {
	kind      kind
	file      string // where that is not the file that is read
	line, col int
	text      string // of a scalar, as written
	entries   []entry
	items     []*node
}

// entry is a key of a mapping with its place.
type entry struct {
	key       string
	file      string // as of a node
	line, col int
	value     *node
}

// place is a node where the key stands.
func (e entry) place() *node { return &node{file: e.file, line: e.line, col: e.col} }

// tree makes nodes of the parser's, counting them.
type tree struct {
	anchors map[string]ast.Node
	nodes   int
}

// fault is a mistake in the YAML itself.
type fault struct {
	line, col int
	text      string
}

func (f *fault) Error() string { return f.text }

// parseTree reads the bytes as one YAML document. The error is a *fault.
func parseTree(src []byte) (n *node, err error) {
	if len(src) > maxBytes {
		return nil, &fault{text: fmt.Sprintf("the file has %d bytes: at most %d are read", len(src), maxBytes)}
	}
	if f := tooDeep(src); f != nil {
		return nil, f
	}
	// The parser is somebody else's: a crash of it on a strange file must not
	// end a daemon that only looked at a new configuration.
	defer func() {
		if r := recover(); r != nil {
			n, err = nil, &fault{text: "cannot be read as YAML"}
		}
	}()
	file, err := parser.ParseBytes(src, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		return nil, yamlFault(err)
	}
	var body ast.Node
	for _, d := range file.Docs {
		if d.Body == nil {
			continue
		}
		if body != nil {
			return nil, at(d.Body, "a second document begins here: want one")
		}
		body = d.Body
	}
	if body == nil {
		return nil, &fault{line: 1, col: 1, text: "the file is empty: want at least sites"}
	}
	t := tree{anchors: map[string]ast.Node{}}
	return t.node(body, 0)
}

// tooDeep looks at brackets, and at dashes in a row, before the parser does,
// which follows them by calling itself.
func tooDeep(src []byte) *fault {
	depth, line, col := 0, 1, 0
	for i, l := range bytes.Split(src, []byte("\n")) {
		if marks := len(l) - len(bytes.TrimLeft(l, " -?&!:")); marks > 8*maxDepth {
			return &fault{i + 1, 1, fmt.Sprintf("nested more than %d deep", maxDepth)}
		}
	}
	var quoted byte
	for _, c := range src {
		col++
		switch {
		case c == '\n':
			line, col, quoted = line+1, 0, 0
			continue
		case quoted != 0:
			if c == quoted {
				quoted = 0
			}
		case c == '"' || c == '\'':
			quoted = c
		case c == '[' || c == '{':
			depth++
		case c == ']' || c == '}':
			depth = max(0, depth-1)
		}
		if depth > maxDepth {
			return &fault{line, col, fmt.Sprintf("nested more than %d deep", maxDepth)}
		}
	}
	return nil
}

func yamlFault(err error) *fault {
	var y yaml.Error
	if errors.As(err, &y) && y.GetToken() != nil {
		p := y.GetToken().Position
		text := y.GetMessage()
		if strings.Contains(text, "\t") {
			text = "a tab where spaces are wanted: indent with spaces"
		}
		return &fault{p.Line, p.Column, "not YAML: " + text}
	}
	return &fault{text: "not YAML: " + firstLine(err.Error())}
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

func at(n ast.Node, text string) *fault {
	if n == nil || n.GetToken() == nil {
		return &fault{text: text}
	}
	p := n.GetToken().Position
	return &fault{p.Line, p.Column, text}
}

func (t *tree) node(n ast.Node, depth int) (*node, error) {
	t.nodes++
	if t.nodes > maxNodes {
		return nil, at(n, fmt.Sprintf("more than %d values, aliases counted each time they are used", maxNodes))
	}
	if depth > maxDepth {
		return nil, at(n, fmt.Sprintf("nested more than %d deep", maxDepth))
	}
	out := &node{}
	if n != nil && n.GetToken() != nil {
		out.line, out.col = n.GetToken().Position.Line, n.GetToken().Position.Column
	}
	switch n := n.(type) {
	case nil, *ast.NullNode:
		return out, nil
	case *ast.MappingNode:
		return t.mapping(out, n.Values, depth)
	case *ast.MappingValueNode:
		return t.mapping(out, []*ast.MappingValueNode{n}, depth)
	case *ast.SequenceNode:
		out.kind = list
		for _, v := range n.Values {
			item, err := t.node(v, depth+1)
			if err != nil {
				return nil, err
			}
			out.items = append(out.items, item)
		}
		return out, nil
	case *ast.AnchorNode:
		t.anchors[n.Name.GetToken().Value] = n.Value
		return t.node(n.Value, depth+1)
	case *ast.AliasNode:
		target, ok := t.anchors[n.Value.GetToken().Value]
		if !ok {
			return nil, at(n, "alias *"+n.Value.GetToken().Value+" has no anchor before it")
		}
		return t.node(target, depth+1)
	case *ast.TagNode:
		return t.node(n.Value, depth+1)
	case *ast.LiteralNode:
		out.kind, out.text = scalar, n.Value.Value
		return out, nil
	case ast.ScalarNode:
		out.kind, out.text = scalar, n.GetToken().Value
		return out, nil
	}
	return nil, at(n, "this kind of YAML is not used here")
}

func (t *tree) mapping(out *node, values []*ast.MappingValueNode, depth int) (*node, error) {
	out.kind = mapping
	var merged []entry
	for i, v := range values {
		e := entry{key: v.Key.GetToken().Value, line: v.Key.GetToken().Position.Line, col: v.Key.GetToken().Position.Column}
		if i == 0 && out.line > 0 && v.Key.GetToken().Position.Line <= out.line && !v.IsFlowStyle {
			out.line, out.col = e.line, e.col
		}
		value, err := t.node(v.Value, depth+1)
		if err != nil {
			return nil, err
		}
		if value.line == 0 {
			value.line, value.col = e.line, e.col
		}
		e.value = value
		if _, ok := v.Key.(*ast.MergeKeyNode); ok {
			if value.kind != mapping {
				return nil, at(v.Key, "<< merges a mapping: want an alias of one")
			}
			merged = append(merged, value.entries...)
			continue
		}
		out.entries = append(out.entries, e)
	}
	// What is written here wins over what is merged in.
	for _, m := range merged {
		if out.get(m.key) == nil {
			out.entries = append(out.entries, m)
		}
	}
	return out, nil
}

// get is the value of a key, or nil.
func (n *node) get(key string) *node {
	for _, e := range n.entries {
		if e.key == key {
			return e.value
		}
	}
	return nil
}
