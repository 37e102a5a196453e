package linechecking

import (
	"slices"
	"strings"
	"unicode"
)

// Match lists the players that typed letters may mean, the likeliest first: those that begin with them, with or without
// spaces, then those whose first letter and number they are ("t7" is Tpt 7), then those that have the letters in that
// order. Nothing typed is everybody, in the order given.
func Match(players []string, typed string) (list []string) {
	typed = squeeze(typed)
	type ranked struct {
		name string
		rank int
	}
	var all []ranked
	for _, name := range players {
		if rank := matchRank(squeeze(name), typed); rank >= 0 {
			all = append(all, ranked{name, rank})
		}
	}
	slices.SortStableFunc(all, func(a, b ranked) int { return a.rank - b.rank })
	for _, r := range all {
		list = append(list, r.name)
	}
	return list
}

// squeeze is a name in small letters without spaces.
func squeeze(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), "")) }

// matchRank is how well typed letters fit a name, 0 for best and -1 for not at all.
func matchRank(name, typed string) int {
	switch {
	case name == typed:
		return 0
	case typed != "" && typed == initial(name):
		return 1
	case strings.HasPrefix(name, typed):
		return 2
	}
	rest := name
	for _, r := range typed {
		_, after, found := strings.Cut(rest, string(r))
		if !found {
			return -1
		}
		rest = after
	}
	return 3
}

// initial is the first letter of a name and the number at its end: "t7" of "tpt7".
func initial(name string) string {
	letters := strings.TrimRightFunc(name, unicode.IsDigit)
	if letters == "" || letters == name {
		return ""
	}
	first := []rune(letters)[:1]
	return string(first) + name[len(letters):]
}
