package page

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"lentic/web/ui"
)

var (
	update = flag.Bool("update", false, "rewrite the golden pages")
	out    = flag.String("out", "", "also write every story there, with the built style, to look at")
)

// inline finds what the content policy forbids.
var inline = regexp.MustCompile(` style="|<style|<script>| on[a-z]+="|https?://[^w]|javascript:`)

func TestEveryStory(t *testing.T) {
	for _, s := range Stories(nil) {
		t.Run(s.Name, func(t *testing.T) {
			if *out != "" {
				a, err := ui.Bundle()
				if err != nil {
					t.Fatal(err)
				}
				s.Page.frame().Assets = a
			}
			var b bytes.Buffer
			if err := Render(&b, s.Page); err != nil {
				t.Fatal(err)
			}
			if bad := inline.FindString(b.String()); bad != "" {
				t.Errorf("the page holds %q, which its policy forbids", bad)
			}
			if !bytes.Contains(b.Bytes(), []byte("<h1")) {
				t.Error("the page has no first sentence")
			}
			if bytes.Contains(b.Bytes(), []byte("NaN")) || bytes.Contains(b.Bytes(), []byte("ZgotmplZ")) {
				t.Error("the page holds what was not a number, or not trusted")
			}
			if *out != "" {
				page := bytes.ReplaceAll(b.Bytes(), []byte(`"/static/`), []byte(`"static/`))
				if err := os.WriteFile(filepath.Join(*out, s.Name+".html"), page, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

func TestGolden(t *testing.T) {
	golden := map[string]bool{"rounds-empty": true, "rounds-alarm": true, "alarm-texted": true, "before-tank": true, "texts-some": true, "problem": true}
	for _, s := range Stories(nil) {
		if !golden[s.Name] {
			continue
		}
		var b bytes.Buffer
		if err := Render(&b, s.Page); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join("testdata", s.Name+".html")
		if *update {
			if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), want) {
			t.Errorf("%s differs from what is rendered: look at it, and run with -update if it is meant", file)
		}
	}
}
