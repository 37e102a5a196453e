package guess

import (
	"slices"
	"strings"
	"unicode"
)

// pattern finds what names have in common around the labels of sets: "Set {set}". Loose, the label ends at a space or
// another mark; tight, also where digits meet letters.
func pattern(names []string, tight bool) (text string, labels []string, ok bool) {
	before, after := names[0], names[0]
	shortest := len(names[0])
	for _, n := range names[1:] {
		before, after = samePrefix(before, n), sameSuffix(after, n)
		shortest = min(shortest, len(n))
	}
	for len(before) > 0 && !ends(before[len(before)-1]) && !wordEnd(before, names) {
		before = before[:len(before)-1]
	}
	for len(after) > 0 && !ends(after[0]) && !(tight && unicode.IsLetter(rune(after[0]))) {
		after = after[1:]
	}
	if len(before)+len(after) >= shortest {
		return "", nil, false
	}
	seen := map[string]bool{}
	for _, n := range names {
		label := strings.TrimSpace(n[len(before) : len(n)-len(after)])
		if label == "" || seen[strings.ToLower(label)] {
			return "", nil, false
		}
		seen[strings.ToLower(label)] = true
		labels = append(labels, label)
	}
	return before + "{set}" + after, labels, true
}

// samePrefix is what two names begin with.
func samePrefix(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	return a[:i]
}

// sameSuffix is what two names end with.
func sameSuffix(a, b string) string {
	i := 0
	for i < min(len(a), len(b)) && a[len(a)-1-i] == b[len(b)-1-i] {
		i++
	}
	return a[len(a)-i:]
}

// ends reports whether a label may end before or after this byte.
func ends(b byte) bool { return b < 0x80 && !unicode.IsLetter(rune(b)) && !unicode.IsDigit(rune(b)) }

// wordEnd reports whether letters end where digits begin in every name: "S" in "S1" and "S2".
func wordEnd(before string, names []string) bool {
	if last := before[len(before)-1]; !unicode.IsLetter(rune(last)) {
		return false
	}
	return !slices.ContainsFunc(names, func(n string) bool {
		return len(n) == len(before) || !unicode.IsDigit(rune(n[len(before)]))
	})
}
