package daemon

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"lentic/cmd/lentic/config"
)

// acceptedName is where the last accepted configuration is kept, in the data
// directory beside the database.
const acceptedName = "accepted.yaml"

// LoadConfig reads the configuration; its mistakes are the error.
func LoadConfig(path string) (*config.Config, error) {
	cfg, problems := config.Load(path, config.OS)
	if err := problems.Err(); err != nil {
		return nil, err
	}
	return cfg, nil
}

// LoadInForce reads the configuration at path, or, where that is bad and an
// earlier one was accepted, the earlier one: then refused says what is wrong
// with the file. Only a first start refuses to run on a bad file, and a visit
// can be declared while somebody is still mending it.
func LoadInForce(path string) (cfg *config.Config, refused config.Problems, err error) {
	cfg, problems := config.Load(path, config.OS)
	if len(problems) == 0 {
		return cfg, nil, nil
	}
	last := filepath.Join(dataOf(path), acceptedName)
	src, readErr := os.ReadFile(last)
	if readErr != nil {
		return nil, nil, problems
	}
	// It is read as if it stood where the file does, so that the files it
	// names are found.
	cfg, again := config.Parse(path, src, config.OS)
	if len(again) > 0 {
		return nil, nil, problems
	}
	return cfg, problems, nil
}

var dataLine = regexp.MustCompile(`(?m)^data:\s*("[^"\n]*"|'[^'\n]*'|[^#\n]*)`)

// dataOf finds the data directory of a file that as a whole cannot be read: its
// line, if there is one, else the default.
func dataOf(path string) string {
	dir := "data"
	if src, err := os.ReadFile(path); err == nil {
		if m := dataLine.FindSubmatch(src); m != nil {
			if d := strings.Trim(strings.TrimSpace(string(m[1])), `"'`); d != "" {
				dir = d
			}
		}
	}
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(filepath.Dir(path), dir)
	}
	return dir
}

// keepAccepted writes the configuration that is now in force beside the
// database: synced, then renamed over the former one. One that is there already
// is left alone, so that a full disk does not keep lentic from starting.
func keepAccepted(cfg *config.Config) error {
	path := filepath.Join(cfg.Data, acceptedName)
	if kept, err := os.ReadFile(path); err == nil && bytes.Equal(kept, cfg.Source) {
		return nil
	}
	f, err := os.CreateTemp(cfg.Data, acceptedName+".*") // mode 0600: it may hold secrets' names
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	if _, err := f.Write(cfg.Source); err != nil {
		f.Close()
		return err
	}
	if err := f.Sync(); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	d, err := os.Open(cfg.Data)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
