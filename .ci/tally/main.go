// Command tally reads `go test -json` from standard input, prints what people
// want to see of it (failures whole, one line a package) and ends with every
// skipped test and its reason, then one line of totals. With -steps FILE it
// adds the other checks recorded there, a line each: "pass NAME",
// "fail NAME: why" or "skip NAME: why". It exits 1 when anything failed.
package main

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"sort"
	"strings"
)

type event struct {
	Action  string
	Package string
	Test    string
	Output  string
	Elapsed float64
}

type tally struct {
	passed, failed, skipped int
	output                  map[string][]string // by package and test, kept until it passes
	reasons                 []string
	failures                []string
}

func main() {
	steps := flag.String("steps", "", "file with the outcome of checks that are no Go tests")
	flag.Parse()
	t := &tally{output: map[string][]string{}}
	in := bufio.NewScanner(os.Stdin)
	in.Buffer(make([]byte, 1<<20), 1<<26)
	for in.Scan() {
		var e event
		if json.Unmarshal(in.Bytes(), &e) != nil {
			fmt.Println(in.Text()) // the compiler's own words
			continue
		}
		t.take(e)
	}
	if *steps != "" {
		t.takeSteps(*steps)
	}
	t.print()
	if t.failed > 0 || t.passed == 0 {
		os.Exit(1)
	}
}

func (t *tally) take(e event) {
	key := e.Package + " " + e.Test
	switch e.Action {
	case "output", "build-output":
		t.output[key] = append(t.output[key], e.Output)
	case "pass":
		t.end(e, &t.passed)
	case "skip":
		if e.Test != "" {
			t.reasons = append(t.reasons, key+": "+reason(t.output[key]))
			t.end(e, &t.skipped)
		}
	case "fail", "build-fail":
		fmt.Print(strings.Join(t.output[key], ""))
		t.failures = append(t.failures, strings.TrimSpace(key))
		t.failed++
		delete(t.output, key)
	}
}

// end counts a test, not a package, and forgets its output.
func (t *tally) end(e event, count *int) {
	if e.Test != "" {
		*count++
	} else {
		fmt.Printf("ok    %s  %.1f s\n", e.Package, e.Elapsed)
	}
	delete(t.output, e.Package+" "+e.Test)
}

// reason is what a skipped test said, without the frame go test puts around.
func reason(lines []string) string {
	var said []string
	for _, l := range lines {
		l = strings.TrimSpace(l)
		if l == "" || strings.HasPrefix(l, "===") || strings.HasPrefix(l, "---") {
			continue
		}
		said = append(said, l)
	}
	if said == nil {
		return "no reason given"
	}
	return strings.Join(said, " ")
}

func (t *tally) takeSteps(name string) {
	b, err := os.ReadFile(name)
	if err != nil {
		t.failed++
		t.failures = append(t.failures, err.Error())
		return
	}
	for _, l := range strings.Split(strings.TrimSpace(string(b)), "\n") {
		what, rest, _ := strings.Cut(l, " ")
		switch what {
		case "pass":
			t.passed++
		case "skip":
			t.skipped++
			t.reasons = append(t.reasons, rest)
		case "fail":
			t.failed++
			t.failures = append(t.failures, rest)
		}
	}
}

func (t *tally) print() {
	sort.Strings(t.reasons)
	for _, r := range t.reasons {
		fmt.Println("skipped:", r)
	}
	for _, f := range t.failures {
		fmt.Println("failed:", f)
	}
	fmt.Printf("%d passed, %d failed, %d skipped\n", t.passed, t.failed, t.skipped)
}
