package glance

import (
	"fmt"
	"strings"

	"backfield/cue/step"
	"backfield/osc/run"
)

// CueChange is one kind of what a cue changes: "○ opens", and the names.
type CueChange struct {
	What string `json:"what"`
	Who  string `json:"who"`
}

// mostNames is how many names of one kind a page has room for. All are in its list of channels.
const mostNames = 14

// AfterUnhush comes before what a cue changes that the hush holds back.
const AfterUnhush = "after unhush: "

// Changes lists what a cue changes, one for each kind that there is; nothing for no cue. While the run is hushed, it is what
// the cue changes once it no longer is.
func Changes(n *run.NextCue) (list []CueChange) {
	switch {
	case n == nil:
		return nil
	case n.Intent == nil:
		return changes(&n.Summary)
	}
	list = changes(n.Intent)
	if len(list) > 0 {
		list[0].What = AfterUnhush + list[0].What
	}
	return list
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

func changes(n *step.Summary) (list []CueChange) {
	add := func(what string, texts []string, most int) {
		if rest := len(texts) - most; rest > 0 {
			texts = append(texts[:most:most], fmt.Sprintf("and %d more", rest))
		}
		if len(texts) > 0 {
			list = append(list, CueChange{what, strings.Join(texts, ", ")})
		}
	}
	add("○ opens", step.Shorthand(n.Opens), mostNames)
	add("✕ closes", step.Shorthand(n.Closes), mostNames)
	var hands []string
	for _, h := range n.Handovers {
		hands = append(hands, h.Text)
	}
	add("⇄ handover", hands, 3)
	add("⇄ switches", n.Switches, 3)
	add("↕ levels", n.Levels, 3)
	add("↕ sets", n.Settings, 3)
	if n.Moves > 0 {
		add("↔ moves", []string{fmt.Sprint(n.Moves)}, 1)
	}
	if n.Glides > 0 {
		add("↔ glides", []string{fmt.Sprint(n.Glides)}, 1)
	}
	add("→ sends", n.Also, 2)
	return list
}
