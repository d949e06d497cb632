package channel

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// Accepted is what an answer must be for a message to count as taken over.
type Accepted struct {
	Status  int    // 0: any from 200 to 299
	Pointer string // RFC 6901, into a JSON answer; empty: the body is not looked at
	Equals  string // what is found there, as text; empty: that it is there
}

func (a Accepted) check() error {
	if a.Pointer != "" && !strings.HasPrefix(a.Pointer, "/") {
		return fmt.Errorf("accepted: pointer %q: want one of RFC 6901, as /status", a.Pointer)
	}
	if a.Status != 0 && (a.Status < 100 || a.Status > 599) {
		return fmt.Errorf("accepted: status %d: want 100 to 599", a.Status)
	}
	return nil
}

// judge is why the answer is a refusal; empty when it is none.
func (a Accepted) judge(status int, body []byte) string {
	switch {
	case a.Status != 0 && status != a.Status:
		return fmt.Sprintf("want status %d", a.Status)
	case a.Status == 0 && (status < 200 || status > 299):
		return "want a status from 200 to 299"
	case a.Pointer == "":
		return ""
	}
	var doc any
	d := json.NewDecoder(strings.NewReader(string(body)))
	d.UseNumber()
	if err := d.Decode(&doc); err != nil {
		return "want a JSON answer"
	}
	got, ok := find(doc, a.Pointer)
	switch {
	case !ok:
		return fmt.Sprintf("want something at %s", a.Pointer)
	case a.Equals != "" && got != a.Equals:
		return fmt.Sprintf("want %q at %s, got %q", a.Equals, a.Pointer, got)
	}
	return ""
}

// find follows a pointer of RFC 6901 and gives what is there as text.
func find(doc any, pointer string) (string, bool) {
	for _, step := range strings.Split(pointer, "/")[1:] {
		step = strings.ReplaceAll(strings.ReplaceAll(step, "~1", "/"), "~0", "~")
		switch v := doc.(type) {
		case map[string]any:
			next, ok := v[step]
			if !ok {
				return "", false
			}
			doc = next
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(v) || step != strconv.Itoa(i) {
				return "", false
			}
			doc = v[i]
		default:
			return "", false
		}
	}
	switch v := doc.(type) {
	case string:
		return v, true
	case nil:
		return "null", true
	default:
		s, err := asJSON(v)
		return s, err == nil
	}
}
