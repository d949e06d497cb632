package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/evanw/esbuild/pkg/api"

	"lentic/web/ui"
)

const notice = "NOTICE.txt"

// bundle builds root/ui into root/ui/dist. The old bundle goes only when the
// new one stands.
func bundle(root string) error {
	src := filepath.Join(root, "ui")
	dist := filepath.Join(src, "dist")
	res := api.Build(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{
			{InputPath: filepath.Join(src, "script", "tank.ts"), OutputPath: "tank"},
			{InputPath: filepath.Join(src, "script", "pages.ts"), OutputPath: "pages"},
			{InputPath: filepath.Join(src, "css", "style.css"), OutputPath: "style"},
			{InputPath: filepath.Join(src, "css", "icon.svg"), OutputPath: "icon"},
		},
		Outdir: dist, EntryNames: "[name]-[hash]", Bundle: true, Format: api.FormatESModule,
		Target: api.ES2020, MinifyWhitespace: true, MinifySyntax: true, MinifyIdentifiers: true,
		Charset: api.CharsetUTF8, LegalComments: api.LegalCommentsNone,
		Loader: map[string]api.Loader{".svg": api.LoaderCopy}, LogLevel: api.LogLevelSilent,
	})
	if err := complaint(res.Errors); err != nil {
		return err
	}
	if err := clear(dist); err != nil {
		return err
	}
	names := ui.Assets{}
	for _, f := range res.OutputFiles {
		hashed := filepath.Base(f.Path)
		names[plain(hashed)] = hashed
		if err := os.WriteFile(f.Path, f.Contents, 0o644); err != nil {
			return err
		}
	}
	if err := writeNotice(root, filepath.Join(dist, notice)); err != nil {
		return err
	}
	b, err := json.MarshalIndent(names, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dist, ui.Manifest), append(b, '\n'), 0o644)
}

// plain is "tank.js" for "tank-3F2A9C1B.js".
func plain(hashed string) string {
	ext := filepath.Ext(hashed)
	name := strings.TrimSuffix(hashed, ext)
	return name[:strings.LastIndex(name, "-")] + ext
}

// clear removes an old bundle, but not the file that keeps the folder.
func clear(dist string) error {
	if err := os.MkdirAll(dist, 0o755); err != nil {
		return err
	}
	old, err := os.ReadDir(dist)
	if err != nil {
		return err
	}
	for _, e := range old {
		if e.Name() != ".keep" {
			if err := os.RemoveAll(filepath.Join(dist, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// writeNotice keeps the licence of what is bundled beside the bundle.
func writeNotice(root, to string) error {
	b, err := os.ReadFile(filepath.Join(root, "node_modules", "uplot", "LICENSE"))
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("the chart library is not there: run `npm ci` in %s", root)
	}
	if err != nil {
		return err
	}
	return os.WriteFile(to, append([]byte("The bundle contains uPlot, under this licence:\n\n"), b...), 0o644)
}

// complaint is all of the bundler's errors, each with its place.
func complaint(ms []api.Message) error {
	var errs []error
	for _, m := range ms {
		at := ""
		if l := m.Location; l != nil {
			at = fmt.Sprintf("%s:%d:%d: ", l.File, l.Line, l.Column+1)
		}
		errs = append(errs, errors.New(at+m.Text))
	}
	return errors.Join(errs...)
}
