package config

import (
	"strconv"
	"strings"
)

// nearest is the word of those that s was most likely meant to be, or "": at
// most one slip in three letters, counting a swap of neighbours as one.
func nearest(s string, words []string) string {
	best, at := "", max(1, len(s)/3)+1
	if len(s) > 64 {
		return ""
	}
	for _, w := range words {
		if d := distance(strings.ToLower(s), strings.ToLower(w)); d < at {
			best, at = w, d
		}
	}
	for _, w := range words {
		if best == "" && len(s) >= 3 && strings.HasPrefix(w, s) {
			best = w
		}
	}
	return best
}

// distance counts the letters to insert, drop, replace or swap to make b of a.
func distance(a, b string) int {
	prev2, prev, cur := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			same := 1
			if a[i-1] == b[j-1] {
				same = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+same)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(b)]
}

// meant is the tail of a message about a word: the nearest one, and all that
// are known.
func meant(s string, words []string) string {
	var t string
	if w := nearest(s, words); w != "" {
		t = ": did you mean " + w + "?"
	} else {
		t = ":"
	}
	switch {
	case len(words) == 0:
		return t + " there is none"
	case len(words) > 24 && t != ":":
		return t
	case len(words) > 24:
		return t + " want one of the " + strconv.Itoa(len(words)) + " that there are"
	}
	return t + " want " + strings.Join(words, ", ")
}
