// Package ui holds what a browser is sent: the templates of the pages, and the
// built bundle of their style and script. It exists so that the daemon is one
// file, and so that a page that lacks its bundle says so at start and not by
// looking broken at three in the morning.
//
// Templates stand in templates/, style in css/, script in script/. The bundle
// in dist/ is built from the latter two by `go run ./web/build`, under names
// that carry a hash of their content; it is never edited and not kept in git.
//
// Everything here is read only and may be used by any number of callers.
package ui

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
)

//go:embed all:dist templates
var files embed.FS

// ErrNoBundle: the binary was built before the bundle was.
var ErrNoBundle = errors.New("web/ui/dist holds no bundle: run `make bundle` (go run ./web/build) and build again")

// Manifest is the file in dist/ that maps names to hashed names.
const Manifest = "manifest.json"

// Assets maps the plain name of a bundle file, as "tank.js", to the name it is
// served under, as "tank-3F2A9C1B.js". A name that is absent has no file.
type Assets map[string]string

// Bundle reads the embedded manifest. It returns ErrNoBundle when nothing was
// bundled, and an error naming the file when the manifest and the files differ.
func Bundle() (Assets, error) { return BundleIn(Dist()) }

// BundleIn is Bundle over another folder, as the one on disk.
func BundleIn(dist fs.FS) (Assets, error) {
	b, err := fs.ReadFile(dist, Manifest)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoBundle
	}
	if err != nil {
		return nil, fmt.Errorf("read the bundle's manifest: %w", err)
	}
	var a Assets
	if err := json.Unmarshal(b, &a); err != nil {
		return nil, fmt.Errorf("web/ui/dist/%s: %w: run `make bundle`", Manifest, err)
	}
	for name, hashed := range a {
		if _, err := fs.Stat(dist, hashed); err != nil {
			return nil, fmt.Errorf("web/ui/dist/%s promises %s as %s, which is missing: run `make bundle`", Manifest, name, hashed)
		}
	}
	return a, nil
}

// Dist is the bundle: what is served under /static/.
func Dist() fs.FS { return sub("dist") }

// Templates is the folder of page templates.
func Templates() fs.FS { return sub("templates") }

func sub(dir string) fs.FS {
	f, err := fs.Sub(files, dir)
	if err != nil {
		panic(err) // the name is a constant, and embedded
	}
	return f
}
