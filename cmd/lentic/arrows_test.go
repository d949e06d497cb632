package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// rank orders the packages: each may import lower ranks only. A package that is
// not listed fails, so that every new one is given its place on purpose.
var rank = map[string]int{
	"collector/aquarium": -1, // the words, below everything that uses them
	"collector/water":    0, "collector/screen": 0, "alert/statistic": 0, "alert/relation": 0, "store/ledger": 0, "store/column": 0, "web/ui": 0,
	"collector/wire": 1, "collector/measure": 1, "collector/sim": 1,
	"alert/detect": 1, "alert/text": 1, "alert/rota": 1,
	"store/record": 1, "web/page": 1, "web/account": 1,
	"collector": 2, "collector/broker": 2, "alert": 2, "alert/channel": 2,
	"store": 2, "store/storetest": 2, "web": 2,
	"cmd/lentic/config": 3, "cmd/lentic/tape": 3,
	"cmd/lentic/daemon": 4, "cmd/lentic/scene": 4,
	"cmd/lentic": 5, "web/build": 5, "alert/scorecard": 5,
	// A module of its own, which the daemon's cannot import.
	"store/proof":       3,
	"store/bench/tanks": 1, "store/bench/peer": 2, "store/bench": 5, "store/bench/bare": 5,
}

// Ranks up to pure hold sums and words only: handed the time, never asking it.
const pure = 1

var impure = map[string]string{
	"net": "network", "net/http": "network", "os": "files", "os/exec": "processes",
	"log/slog": "logging", "syscall": "system calls", "io/ioutil": "files", "testing": "tests",
}

var clocks = map[string]bool{"Now": true, "Since": true, "Until": true, "Sleep": true, "After": true,
	"AfterFunc": true, "NewTimer": true, "NewTicker": true, "Tick": true, "LoadLocation": true}

// The sources are read here and not asked of the go command, whose answer would
// come from the test cache after an arrow was broken.
func TestArrows(t *testing.T) {
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() {
			if path != root && (strings.HasPrefix(name, ".") || name == "node_modules" || name == "testdata") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		checkFile(t, path, filepath.ToSlash(filepath.Dir(rel)), strings.HasSuffix(name, "_test.go"))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func checkFile(t *testing.T, path, pkg string, test bool) {
	t.Helper()
	r, ok := rank[pkg]
	if !ok {
		t.Errorf("%s: package %q has no rank: give it one in this test and say why in DEVELOPERS.md", path, pkg)
		return
	}
	src, err := os.ReadFile(path)
	if err != nil {
		t.Error(err)
		return
	}
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, path, src, 0)
	if err != nil {
		t.Error(err)
		return
	}
	external := strings.HasSuffix(f.Name.Name, "_test")
	for _, imp := range f.Imports {
		p, _ := strconv.Unquote(imp.Path.Value)
		at := fset.Position(imp.Pos())
		if ours, ok := strings.CutPrefix(p, "lentic/"); ok {
			other, known := rank[ours]
			// An external test may look from outside at anything
			// below the programs, itself and its peers included.
			limit := r - 1
			if test {
				limit = r
			}
			if external {
				limit = max(r, 2)
			}
			if !known || other > limit {
				t.Errorf("%s: %s (rank %d) imports %s (rank %d): only lower ranks may be imported", at, pkg, r, ours, other)
			}
			continue
		}
		if why, bad := impure[p]; bad && r <= pure && !test {
			t.Errorf("%s: %s is pure and imports %q (%s)", at, pkg, p, why)
		}
	}
	if r <= pure && !test {
		checkPure(t, fset, f, pkg)
	}
}

func checkPure(t *testing.T, fset *token.FileSet, f *ast.File, pkg string) {
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GoStmt:
			t.Errorf("%s: %s is pure and starts a goroutine", fset.Position(n.Pos()), pkg)
		case *ast.SelectorExpr:
			if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && clocks[n.Sel.Name] {
				t.Errorf("%s: %s is pure and calls time.%s: take the time as an argument", fset.Position(n.Pos()), pkg, n.Sel.Name)
			}
		}
		return true
	})
}

// TestPackageDocs: every package says once why it exists, in more than a line.
func TestPackageDocs(t *testing.T) {
	for pkg := range rank {
		dir := filepath.Join("..", "..", filepath.FromSlash(pkg))
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Errorf("%s is ranked and not there: %v", pkg, err)
			continue
		}
		docs, where := 0, ""
		for _, e := range entries {
			if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(dir, e.Name()), nil, parser.PackageClauseOnly|parser.ParseComments)
			if err != nil {
				t.Error(err)
				continue
			}
			if f.Doc != nil {
				docs++
				where = f.Doc.Text()
			}
		}
		if docs != 1 || len(where) < 80 {
			t.Errorf("package %s has %d package comments (want one that says why it exists): %q", pkg, docs, where)
		}
	}
}

// TestTopLevel: a newcomer sees the whole house in one listing.
func TestTopLevel(t *testing.T) {
	want := map[string]bool{"go.mod": true, "go.sum": true, "README.md": true, "DEVELOPERS.md": true, "Makefile": true,
		"cmd": true, "collector": true, "alert": true, "store": true, "web": true, "deploy": true, "testdata": true,
		"bin": true, "data": true} // the last two are made here and ignored by git
	entries, err := os.ReadDir(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !want[e.Name()] && !strings.HasPrefix(e.Name(), ".") {
			t.Errorf("%s stands at the top level and has no place there", e.Name())
		}
		delete(want, e.Name())
	}
	delete(want, "bin")
	delete(want, "data")
	for missing := range want {
		t.Errorf("%s is missing at the top level", missing)
	}
}
