package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"github.com/evanw/esbuild/pkg/api"
)

// runTests bundles each script/test/*.test.js with what it tests, and has Node
// run them.
func runTests(root string) error {
	tests, err := filepath.Glob(filepath.Join(root, "ui", "script", "test", "*.test.js"))
	if err != nil {
		return err
	}
	if len(tests) == 0 {
		return fmt.Errorf("no tests in %s/ui/script/test", root)
	}
	out, err := os.MkdirTemp("", "lentic-script-test-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(out)
	res := api.Build(api.BuildOptions{
		EntryPoints: tests, Outdir: out, OutExtension: map[string]string{".js": ".mjs"}, Bundle: true, Write: true,
		Platform: api.PlatformNode, Format: api.FormatESModule, LogLevel: api.LogLevelSilent,
	})
	if err := complaint(res.Errors); err != nil {
		return err
	}
	built, err := filepath.Glob(filepath.Join(out, "*.mjs"))
	if err != nil {
		return err
	}
	node := exec.Command("node", append([]string{"--test"}, built...)...)
	node.Stdout, node.Stderr = os.Stdout, os.Stderr
	return node.Run()
}
