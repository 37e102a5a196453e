package cuewords

import (
	"slices"

	"backfield/cue/timeline"
	"backfield/layout/source"
)

// AcceptedIn counts the kinds of warning that the score accepts in each cue that has any.
func AcceptedIn(remarks []timeline.Remark) map[string]int {
	kinds := map[string]int{}
	seen := map[[2]string]bool{}
	for _, r := range remarks {
		if key := [2]string{r.Cue, r.Code}; r.Accepted && !seen[key] {
			seen[key] = true
			kinds[r.Cue]++
		}
	}
	return kinds
}

// Accepted lists the warnings about cues that the score accepts: "lead-short in cues 4, 5 and 12".
func Accepted(remarks []timeline.Remark) []string {
	out := []string{}
	var codes []string
	cues := map[string][]string{}
	for _, r := range remarks {
		if !r.Accepted {
			continue
		}
		if cues[r.Code] == nil {
			codes = append(codes, r.Code)
		}
		if !slices.Contains(cues[r.Code], r.Cue) {
			cues[r.Code] = append(cues[r.Code], r.Cue)
		}
	}
	for _, code := range codes {
		word := "cue"
		if len(cues[code]) > 1 {
			word = "cues"
		}
		out = append(out, code+" in "+word+" "+source.And(cues[code]))
	}
	return out
}
