package problemlist

import (
	"slices"

	"backfield/layout/source"
)

// News are the problems worth reporting after known warnings were reported: every error, and the warnings that are
// not among the known. gone are the known ones that are no more. Warnings are the same that say the same of
// the same file: their lines move with every save.
func News(known, problems []source.Problem) (fresh, gone []source.Problem) {
	type saying struct{ file, code, what string }
	of := func(p source.Problem) saying {
		name, _, _, _ := at(p.Span)
		return saying{name, p.Code, p.What}
	}
	left := map[saying]int{}
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

// Warnings are those of the problems that are warnings.
func Warnings(problems []source.Problem) []source.Problem {
	return slices.DeleteFunc(slices.Clone(problems),
		func(p source.Problem) bool { return p.Severity != source.Warning })
}
