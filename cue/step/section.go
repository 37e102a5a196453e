package step

import (
	"fmt"
	"strconv"
	"strings"
)

// BySection names players with each whole section as one, "all 8 Tpt", and then with the others counted too, "3 Bari". mics are
// all players and fixed mics that could be named.
func BySection(names, mics []string) (whole, counted string) {
	var sections []string
	members := map[string][]string{}
	for _, name := range names {
		s := section(name)
		if members[s] == nil {
			sections = append(sections, s)
		}
		members[s] = append(members[s], name)
	}
	size := map[string]int{}
	for _, m := range mics {
		size[section(m)]++
	}
	var named, numbers []string
	for _, s := range sections {
		list, n := members[s], len(members[s])
		switch {
		case n == 1:
			named, numbers = append(named, list[0]), append(numbers, list[0])
		case n >= size[s]:
			named, numbers = append(named, fmt.Sprintf("all %d %s", n, s)), append(numbers, fmt.Sprintf("%d %s", n, s))
		default:
			named, numbers = append(named, Shorthand(list)...), append(numbers, fmt.Sprintf("%d %s", n, s))
		}
	}
	return strings.Join(named, ", "), strings.Join(numbers, ", ")
}

// section is a name without the number at its end, or the first word of a name without one: "Tpt" and "pit".
func section(name string) string {
	if at := strings.LastIndexByte(name, ' '); at >= 0 {
		if _, err := strconv.Atoi(name[at+1:]); err == nil {
			return name[:at]
		}
	}
	word, _, _ := strings.Cut(name, " ")
	return word
}
