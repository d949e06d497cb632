package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestPublished holds the lists of published figures to what is there: each file that
// names a source has a row, and each row a test that exists and a tolerance. With -v
// it prints all of them as one list.
func TestPublished(t *testing.T) {
	const root = "../.."
	tests := map[string]bool{}
	var lists, published []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git" || d.Name() == "store"):
			return filepath.SkipDir
		case d.Name() == "SOURCES.md":
			lists = append(lists, path)
		case strings.HasSuffix(path, "_test.go"):
			b, err := os.ReadFile(path)
			for _, m := range regexp.MustCompile(`(?m)^func (Test\w+)\(`).FindAllSubmatch(b, -1) {
				tests[string(m[1])] = true
			}
			return err
		case strings.Contains(path, "testdata") && (strings.HasSuffix(path, ".csv") || strings.HasSuffix(path, ".json")):
			b, err := os.ReadFile(path)
			if head := string(b[:min(len(b), 200)]); strings.HasPrefix(head, "# source") || strings.Contains(head, `"source"`) {
				published = append(published, path)
			}
			return err
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	for _, list := range lists {
		b, err := os.ReadFile(list)
		if err != nil {
			t.Fatal(err)
		}
		_, rows, ok := strings.Cut(string(b), "| file | source | test | tolerance |\n")
		if !ok {
			t.Errorf("%s has no table of file, source, test and tolerance", list)
		}
		for row := range strings.SplitSeq(rows, "\n") {
			cells := strings.Split(row, "|")
			if len(cells) != 6 || strings.Contains(row, "---") {
				continue
			}
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			listed[filepath.Join(filepath.Dir(list), cells[1])] = true
			names := regexp.MustCompile(`Test\w+`).FindAllString(cells[3], -1)
			if len(names) == 0 || cells[2] == "" || cells[4] == "" {
				t.Errorf("%s: %s: want a source, a test and a tolerance", list, cells[1])
			}
			for _, name := range names {
				if !tests[name] {
					t.Errorf("%s: %s: there is no %s", list, cells[1], name)
				}
			}
			t.Logf("%s | %s | %s | %s | %s", strings.TrimPrefix(strings.TrimPrefix(filepath.Dir(filepath.Dir(list)), root), "/"), cells[1], cells[2], cells[3], cells[4])
		}
	}
	for _, path := range published {
		if !listed[path] {
			t.Errorf("%s names a source and has no row in the SOURCES.md beside it", path)
		}
	}
}
