package compile

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/work"
	"backfield/layout/source"
)

// Explain returns how the numbers of one player or fixed mic in one cue were computed. If the mic is closed
// there, closed is true, and Explain returns the derivation that its pan and delay come from, with the id of that cue.
// The error says why there is none.
func (r *Result) Explain(cueID, name string) (w *work.Derivation, at string, closed bool, err error) {
	var ids []string
	for i := range r.Cues {
		ids = append(ids, r.Cues[i].Cue.ID.V)
	}
	i := slices.Index(ids, cueID)
	if i < 0 {
		return nil, "", false, fmt.Errorf("no cue %q; %s", cueID,
			source.DidYouMean(cueID, ids, source.OneOfOr(ids, cue.NoCues)))
	}
	if w := r.find(i, func(w *work.Derivation) bool { return w.Name == name }); w != nil {
		return w, cueID, false, nil
	}
	line, err := r.lineOf(i, name)
	if err != nil {
		return nil, "", false, err
	}
	// The mic is closed. Its line has the numbers that it needs next, whoever wears it then.
	var order []int
	for j := i + 1; j < len(r.Cues); j++ {
		order = append(order, j)
	}
	for j := len(r.Cues) - 1; j >= 0; j-- { // after its last opening a line keeps its numbers
		order = append(order, j)
	}
	for _, j := range order {
		if w := r.find(j, func(w *work.Derivation) bool { return w.Line == line }); w != nil {
			return w, ids[j], true, nil
		}
	}
	return nil, "", false, fmt.Errorf("no cue opens %q", name)
}

// find returns the first derivation of a cue that matches, or nil.
func (r *Result) find(cue int, is func(w *work.Derivation) bool) *work.Derivation {
	if n := slices.IndexFunc(r.Derivations[cue], is); n >= 0 {
		return r.Derivations[cue][n]
	}
	return nil
}

// lineOf is the line of a fixed mic, or of the mic that a player wears at a cue's moment. The error says why
// there is none.
func (r *Result) lineOf(cue int, name string) (line int, err error) {
	for i, l := range r.Lines.List {
		if l.Fixed != nil && l.Fixed.Name == name {
			return i, nil
		}
	}
	at := r.Cues[cue].At
	if line, ok := r.Lines.LineOf(name, at); ok {
		return line, nil
	}
	names := r.Lines.MicNames()
	switch _, known := r.Roster.Player(name); {
	case known:
		why, do := r.Lines.WhyNoMic(name, at)
		if why != "" {
			why = ": " + why
		}
		return 0, fmt.Errorf("%s wears no mic in cue %q%s; %s", name, r.Cues[cue].Cue.ID.V, why, do)
	case slices.Contains(names, name):
		return 0, fmt.Errorf("no cue opens %q", name)
	}
	return 0, fmt.Errorf("no player and no fixed mic %q; %s", name,
		source.DidYouMean(name, names, "the players are in the roster, the fixed mics in the rig"))
}
