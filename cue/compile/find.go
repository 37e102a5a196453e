package compile

import (
	"fmt"
	"slices"

	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/source"
	"backfield/layout/stands"
)

// Explain returns the working behind one player's or fixed mic's numbers in one cue or waypoint. Where the mic is
// closed, it returns the working that its pan and delay come from and the id of its cue; closed reports that. An error
// says why there is none.
func (r *Result) Explain(cueID, name string) (w *work.Derivation, at string, closed bool, err error) {
	var ids []string
	for _, pc := range r.Pieces {
		ids = append(ids, pc.ID(r.Cues))
	}
	i := slices.Index(ids, cueID)
	if i < 0 {
		return nil, "", false, fmt.Errorf("no cue %q; %s", cueID,
			source.DidYouMean(cueID, ids, "it is "+source.OneOf(ids)))
	}
	if w := r.find(i, func(w *work.Derivation) bool { return w.Name == name }); w != nil {
		return w, cueID, false, nil
	}
	line, err := r.lineOf(i, name)
	if err != nil {
		return nil, "", false, err
	}
	// The mic is closed: its line's numbers are those that the line needs next, whoever wears it then.
	var order []int
	for j := i + 1; j < len(r.Pieces); j++ {
		order = append(order, j)
	}
	for j := len(r.Pieces) - 1; j >= 0; j-- { // after its last opening a line keeps what it had
		order = append(order, j)
	}
	for _, j := range order {
		if w := r.find(j, func(w *work.Derivation) bool { return w.Line == line }); w != nil {
			return w, ids[j], true, nil
		}
	}
	return nil, "", false, fmt.Errorf("no cue opens %q", name)
}

// find returns the first working of a piece that is as asked, nil where none is.
func (r *Result) find(piece int, is func(w *work.Derivation) bool) *work.Derivation {
	if n := slices.IndexFunc(r.Derivations[piece], is); n >= 0 {
		return r.Derivations[piece][n]
	}
	return nil
}

// lineOf is the line of a fixed mic, or of the mic that a player wears at a piece's first moment. An error says why
// there is none.
func (r *Result) lineOf(piece int, name string) (line int, err error) {
	for i, l := range r.Lines.List {
		if l.Fixed != nil && l.Fixed.Name == name {
			return i, nil
		}
	}
	pc := r.Pieces[piece]
	if line, ok := r.Lines.LineOf(name, r.Spans[pc.Cue].Samples[pc.Lo]); ok {
		return line, nil
	}
	names := r.Lines.MicNames()
	switch _, known := r.Roster.Player(name); {
	case known:
		return 0, fmt.Errorf("%s wears no mic in cue %q; %s", name, pc.ID(r.Cues), r.Lines.WhoWears(name))
	case slices.Contains(names, name):
		return 0, fmt.Errorf("no cue opens %q", name)
	}
	return 0, fmt.Errorf("no player and no fixed mic %q; %s", name,
		source.DidYouMean(name, names, "the roster lists the players, the rig the fixed mics"))
}

// Lateness is how far the loudspeakers are behind a mic's own sound at each of the rig's seats, in milliseconds and
// in the order of Rig.Seats, when its sound is made at a place and goes out as a working has it. Below 0 they are
// ahead; a seat that no stack reaches has +Inf.
func (r *Result) ArrivalGapsMS(w *work.Derivation, at layout.Point) []float64 {
	l := stands.New(r.Rig.Seats(), r.Rig.Reference, r.Setup.System, 0)
	late := make([]float64, l.Len())
	l.Needs(l.Through(w.Pan.Gains), at, late)
	for i, need := range late {
		late[i] = w.Delay.MS - 1000*need
	}
	return late
}
