package asking

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"backfield/cue/timeline"
	"backfield/layout/source"
)

// pieces are the letters and the number of a name: "Tpt 3" is "tpt" and "3".
var pieces = regexp.MustCompile(`^\s*([^\d]*?)\s*(\d*)\s*$`)

// nameFor finds the name that was typed, whole or short: "t3" is "Tpt 3" where no other name fits, or nobody else who
// wears a pack. what says what the names are.
func nameFor(typed string, names, wearers []string, what string) (string, error) {
	for _, name := range names {
		if strings.EqualFold(name, typed) {
			return name, nil
		}
	}
	want := pieces.FindStringSubmatch(strings.ToLower(typed))
	var fit []string
	for _, name := range names {
		has := pieces.FindStringSubmatch(strings.ToLower(name))
		if want != nil && has != nil && strings.HasPrefix(has[1], want[1]) && sameNumber(has[2], want[2]) {
			fit = append(fit, name)
		}
	}
	wears := func(name string) bool { return slices.Contains(wearers, name) }
	if with := slices.DeleteFunc(slices.Clone(fit), func(name string) bool { return !wears(name) }); len(with) == 1 {
		return with[0], nil
	}
	switch len(fit) {
	case 1:
		return fit[0], nil
	case 0:
		return "", fmt.Errorf("no %s %q; %s", what, typed, source.DidYouMean(typed, names, "type the name again"))
	}
	return "", fmt.Errorf("%q fits several: %s; type more of the name", typed, timeline.Few(fit))
}

// sameNumber compares "03" with "3". A name without a number needs none.
func sameNumber(has, want string) bool {
	return strings.TrimLeft(has, "0") == strings.TrimLeft(want, "0") && (has == "") == (want == "")
}

// splitAnswer are the things of an answer, separated by commas.
func splitAnswer(answer string) []string {
	var list []string
	for _, x := range strings.Split(answer, ",") {
		if x = strings.TrimSpace(x); x != "" && !slices.Contains(list, x) {
			list = append(list, x)
		}
	}
	return list
}
