package page

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"sync"

	"lentic/web/ui"
)

var embedded = sync.OnceValues(func() (*Set, error) { return Load(ui.Templates()) })

// Render writes p as HTML. Nothing is written unless the whole page could be
// made. An error names the template and the field.
func Render(w io.Writer, p Page) error {
	s, err := embedded()
	if err != nil {
		return err
	}
	return s.Render(w, p)
}

// Set is a set of parsed templates; it may be used by many at once.
type Set struct{ pages map[string]*template.Template }

// names lists the pages; each has a template file of its name.
var names = []string{"rounds", "tank", "alarm", "before", "intake", "texts", "visit", "login", "problem"}

// Load parses the templates of a folder, as ui.Templates or the one on disk:
// frame.html and the parts (part-*.html) around each page.
func Load(dir fs.FS) (*Set, error) {
	common, err := template.New("frame.html").Funcs(words).ParseFS(dir, "frame.html", "part-*.html")
	if err != nil {
		return nil, fmt.Errorf("parse the page frame: %w", err)
	}
	s := &Set{pages: map[string]*template.Template{}}
	for _, name := range names {
		t, err := common.Clone()
		if err != nil {
			return nil, fmt.Errorf("copy the page frame for %s: %w", name, err)
		}
		if t, err = t.ParseFS(dir, name+".html"); err != nil {
			return nil, fmt.Errorf("parse page %s: %w", name, err)
		}
		s.pages[name] = t.Option("missingkey=error")
	}
	return s, nil
}

// Render writes p as HTML, as the function Render does.
func (s *Set) Render(w io.Writer, p Page) error {
	t, ok := s.pages[p.name()]
	if !ok {
		return fmt.Errorf("render: no template for page %q", p.name())
	}
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return fmt.Errorf("render page %s: %w", p.name(), err)
	}
	_, err := b.WriteTo(w)
	return err
}

// words are the two sums a drawing's template needs: per cent to sheet units,
// and a step up or down.
var words = template.FuncMap{
	"per10": func(x float64) float64 { return round1(x * sheet / 100) },
	"plus":  func(y float64, d int) float64 { return round1(y + float64(d)) },
}
