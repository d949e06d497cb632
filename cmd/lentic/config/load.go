package config

import "os"

// Env is what the file may refer to outside itself.
type Env struct {
	Getenv   func(name string) string // "" is missing
	ReadFile func(path string) ([]byte, error)
}

// OS is the environment and the files of the process.
var OS = Env{Getenv: os.Getenv, ReadFile: os.ReadFile}

// Load reads and checks the file at path. Either the Config is usable and
// there are no problems, or the Config is nil and the problems are every
// mistake found.
func Load(path string, env Env) (*Config, Problems) {
	src, err := env.ReadFile(path)
	if err != nil {
		return nil, Problems{{File: path, Text: "cannot be read: " + plainError(err)}}
	}
	return Parse(path, src, env)
}

func plainError(err error) string {
	return err.Error()
}
