package web

import (
	"bytes"
	"fmt"
	"io/fs"
	"net/http"
	"time"

	"lentic/web/page"
	"lentic/web/ui"
)

// bundle is the names of style and script.
func (s *Server) bundle() (ui.Assets, error) {
	if s.UI == nil {
		return ui.Bundle()
	}
	dist, err := fs.Sub(s.UI, "dist")
	if err != nil {
		return nil, err
	}
	return ui.BundleIn(dist)
}

// static serves the bundle. Names carry a hash of the content, so a browser
// may keep them for ever.
func (s *Server) static(w http.ResponseWriter, r *http.Request, _ visitor) error {
	dist := ui.Dist()
	if s.UI != nil {
		var err error
		if dist, err = fs.Sub(s.UI, "dist"); err != nil {
			return err
		}
	}
	name := r.PathValue("name")
	b, err := fs.ReadFile(dist, name)
	if err != nil || name == ui.Manifest || name[0] == '.' {
		return refuse(http.StatusNotFound, "There is no such file.")
	}
	if s.UI == nil {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(b))
	return nil
}

// show sends a page. It is made whole before a byte leaves.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, p page.Page) {
	var b bytes.Buffer
	if err := s.render(&b, p); err != nil {
		s.Log.Error("page not made", "path", s.loggable(r), "err", err)
		http.Error(w, "lentic could not make this page. Its log has the reason. The tanks are watched all the same.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	b.WriteTo(w)
}

func (s *Server) render(b *bytes.Buffer, p page.Page) error {
	if s.UI == nil {
		return page.Render(b, p)
	}
	dir, err := fs.Sub(s.UI, "templates")
	if err != nil {
		return err
	}
	set, err := page.Load(dir)
	if err != nil {
		return fmt.Errorf("templates on disk: %w", err)
	}
	return set.Render(b, p)
}
