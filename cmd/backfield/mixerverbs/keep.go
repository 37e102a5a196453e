package mixerverbs

import (
	"fmt"

	"backfield/cmd/backfield/keeping"
	"backfield/cue/keep"
	"backfield/osc/journal"
)

// kept is what of a run's changes the files of a show can keep.
func kept(changes []journal.LastingChange) (k keep.Changes) {
	for _, c := range changes {
		if c.TrimDB != 0 {
			k.Trims = append(k.Trims, keep.Trim{Name: c.Name, DB: c.TrimDB})
		}
		for _, n := range c.Nudges {
			k.Nudges = append(k.Nudges, keep.KeptNudge{Cue: n.Cue, Name: n.Name, DB: n.DB})
		}
	}
	return k
}

// listKept prints the lines that keep the changes.
func listKept(k *keeping.Keeper, changes []journal.LastingChange) {
	out := k.Command.OutOrStdout()
	fmt.Fprintln(out, "To keep it, use --apply instead of --show, or change these lines:")
	for _, h := range k.Plan(kept(changes)) {
		fmt.Fprint(out, "\n", h.Diff())
	}
}
