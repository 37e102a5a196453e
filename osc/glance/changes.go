package glance

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/step"
	"backfield/osc/run"
)

// CueLine is one of the lines that say what the next cue changes. They are the same lines at every cue, so that nothing on
// a screen moves.
type CueLine struct {
	What string `json:"what"` // "opens", "closes", "levels" or "also"
	N    int    `json:"n"`
	// Who has the words from long to short. A screen shows the first that fit; the last may leave names out, and says so.
	Who []string `json:"who"`
}

// AfterUnhush comes before what a cue changes that the hush holds back.
const AfterUnhush = "after unhush: "

// CueLines says what a cue changes; nobody for no cue. While the run is hushed, it is what the cue changes once it no longer
// is. mics are all players and fixed mics of the show, so that a section can be named whole.
func CueLines(n *run.NextCue, mics []string) []CueLine {
	x := &step.Summary{}
	switch {
	case n == nil:
	case n.Intent != nil:
		x = n.Intent
	default:
		x = &n.Summary
	}
	levels := append(slices.Clone(x.Levels), x.Settings...)
	var also []string
	for _, h := range x.Handovers {
		also = append(also, h.Text)
	}
	also = append(also, x.Switches...)
	for _, a := range x.Also {
		also = append(also, "sends "+a)
	}
	if x.Moves > 0 {
		also = append(also, fmt.Sprintf("moves %d", x.Moves))
	}
	if x.Glides > 0 {
		also = append(also, fmt.Sprintf("glides %d", x.Glides))
	}
	return []CueLine{
		{"opens", len(x.Opens), namesFitting(x.Opens, mics)},
		{"closes", len(x.Closes), namesFitting(x.Closes, mics)},
		{"levels", len(levels), levelsFitting(x, levels, mics)},
		{"also", len(also), listFitting(also)},
	}
}

// Kinds are what a cue changes as texts, one for each kind that there is. While the run is hushed, it is what the cue changes
// once it no longer is.
func Kinds(n *run.NextCue) []string {
	if n.Intent == nil {
		return n.Kinds()
	}
	kinds := n.Intent.Kinds()
	if len(kinds) > 0 {
		kinds[0] = AfterUnhush + kinds[0]
	}
	return kinds
}

// namesFitting names players from long to short: all; a section that is whole as "all 8 Tpt"; and how many of each section. The
// last names nobody.
func namesFitting(names, mics []string) []string {
	if len(names) == 0 {
		return nil
	}
	whole, counted := step.BySection(names, mics)
	last := "touch to read"
	if len(names) == len(mics) {
		last = fmt.Sprintf("all %d mics", len(mics))
	}
	return slices.Compact([]string{
		strings.Join(step.Shorthand(names), ", "), whole, counted, last,
	})
}

// levelsFitting says which levels change, from long to short: from what to what for each; then by how much, for all who change
// alike at once, with whole sections named as one; then with the others counted.
func levelsFitting(x *step.Summary, levels, mics []string) []string {
	all := listFitting(levels)
	var bys []string
	alike := map[string][]string{}
	for _, s := range x.Steps {
		if alike[s.By] == nil {
			bys = append(bys, s.By)
		}
		alike[s.By] = append(alike[s.By], s.Player)
	}
	if len(bys) == 0 {
		return all
	}
	named, counted := []string{}, []string{}
	for _, by := range bys {
		whole, few := step.BySection(alike[by], mics)
		named, counted = append(named, whole+" "+by), append(counted, few+" "+by)
	}
	named, counted = append(named, x.Settings...), append(counted, x.Settings...)
	return slices.Compact(append([]string{all[0], strings.Join(named, "; ")}, listFitting(counted)...))
}

// listFitting joins texts, from all of them to fewer and how many are left out.
func listFitting(texts []string) (list []string) {
	for n := len(texts); n > 0; n-- {
		text := strings.Join(texts[:n], "; ")
		if left := len(texts) - n; left > 0 {
			text += fmt.Sprintf("; %d more", left)
		}
		list = append(list, text)
	}
	if len(texts) > 0 {
		list = append(list, "touch to read")
	}
	return list
}
