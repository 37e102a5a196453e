package problemlist

import (
	"slices"

	"backfield/layout/source"
)

// News lists the problems to report after the known warnings were reported: every error, and the warnings that are new.
// gone are the known warnings that are not there anymore. Two warnings are the same if they say the same about the same
// file, wherever the line is, since lines move with every save.
func News(known, problems []source.Problem) (fresh, gone []source.Problem) {
	type text struct{ file, code, what string }
	of := func(p source.Problem) text {
		name, _, _, _ := at(p.Span)
		return text{name, p.Code, p.What}
	}
	left := map[text]int{}
	for _, k := range known {
		left[of(k)]++
	}
	for _, p := range problems {
		if p.Severity == source.Warning && left[of(p)] > 0 {
			left[of(p)]--
		} else {
			fresh = append(fresh, p)
		}
	}
	for _, k := range known {
		if left[of(k)] > 0 {
			left[of(k)]--
			gone = append(gone, k)
		}
	}
	return fresh, gone
}

// Warnings are the problems that are warnings.
func Warnings(problems []source.Problem) []source.Problem {
	return slices.DeleteFunc(slices.Clone(problems),
		func(p source.Problem) bool { return p.Severity != source.Warning })
}
