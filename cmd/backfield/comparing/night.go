package comparing

import (
	"slices"

	"backfield/cmd/backfield/show"
	"backfield/cue/edits"
	"backfield/cue/timeline"
	"backfield/cue/tonight"
	"backfield/layout/source"
)

// nightEdits are the things that a night says, as edits of the show.
func nightEdits(night *tonight.NightPlan) []edits.FileEdit {
	var list []edits.FileEdit
	for _, e := range night.Entries() {
		list = append(list, edits.FileEdit{Of: e.Of, Words: e.Words})
	}
	return list
}

// nightWithout is the newer show, whose night leaves out some of what it says. The air is of the rig that was read.
func nightWithout(older, newer *show.Loaded) func(list []edits.FileEdit) *timeline.Files {
	return func(list []edits.FileEdit) *timeline.Files {
		without := func(e tonight.NightEntry) bool {
			return slices.ContainsFunc(list, func(x edits.FileEdit) bool { return x.Of == e.Of && x.Words == e.Words })
		}
		full := newer.Full
		if without(tonight.AirEntry) {
			full.Rig = older.Full.Rig
		}
		var p source.Problems // those of a night that nobody wrote
		f := newer.Night.Without(without).Apply(&full, &p)
		return &f
	}
}
