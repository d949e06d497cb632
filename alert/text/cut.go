package text

import "strings"

// shorten cuts a name to n septets. Its last word is kept where it is short,
// for it is what tells "Treatment room 1" from "Treatment room 2"; else the
// name ends with a whole word where one is near, or with a full stop.
func shorten(name string, n int) string {
	if size(name) <= n {
		return name
	}
	if i := strings.LastIndexByte(name, ' '); i > 0 && size(name[i:]) <= min(5, n-9) {
		tail := name[i:]
		return strings.TrimRight(cutTo(name[:i], n-size(tail)-1), " ,;:-") + "." + tail
	}
	head := cutTo(name, n)
	if name[len(head)] == ' ' {
		return strings.TrimRight(head, " ,;:-")
	}
	if i := strings.LastIndexByte(head, ' '); i > 0 && size(head[:i]) >= n/2 {
		return strings.TrimRight(head[:i], " ,;:-")
	}
	return strings.TrimRight(cutTo(name, n-1), " ,;:-") + "."
}

// cutTo is as much of s as n septets hold, never half a character.
func cutTo(s string, n int) string {
	for i, r := range s {
		n -= cost[r]
		if n < 0 {
			return s[:i]
		}
	}
	return s
}
