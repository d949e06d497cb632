// Command build bundles the pages' style and script with the chart library
// that npm fetched, under names that carry a hash of their content, and writes
// the manifest that says which name became which. It is a program of its own
// so that nothing of a bundler ends up in the daemon.
//
//	go run ./web/build          builds web/ui/dist
//	go run ./web/build -test    bundles and runs the script's own tests in Node
package main

import (
	"flag"
	"fmt"
	"os"
)

func main() {
	root := flag.String("root", "web", "the folder web of the repository")
	test := flag.Bool("test", false, "run the script's tests in Node")
	flag.Parse()
	run := bundle
	if *test {
		run = runTests
	}
	if err := run(*root); err != nil {
		fmt.Fprintln(os.Stderr, "web/build:", err)
		os.Exit(1)
	}
}
