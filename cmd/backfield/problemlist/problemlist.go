// Package problemlist is what the commands say about the problems of a whole show: how many there are, which are new
// since the last save, and all of them as JSON. Package source prints a single problem.
package problemlist

import "backfield/layout/source"

// Tally says how many errors and warnings there are: "2 errors, 1 warning".
func Tally(problems []source.Problem) string {
	errors, warnings := count(problems)
	switch {
	case errors == 0 && warnings == 0:
		return "no problems"
	case warnings == 0:
		return source.Count(float64(errors), "error")
	case errors == 0:
		return source.Count(float64(warnings), "warning")
	}
	return source.Count(float64(errors), "error") + ", " + source.Count(float64(warnings), "warning")
}

func count(problems []source.Problem) (errors, warnings int) {
	for _, p := range problems {
		if p.Severity == source.Error {
			errors++
		} else {
			warnings++
		}
	}
	return errors, warnings
}
