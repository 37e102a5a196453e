package page

import (
	"slices"

	"backfield/cue"
	"backfield/cue/diff"
)

// mark notes on a view what differs from another version of the show: the cues on the ribbon, and the ways of the
// players who walk otherwise. was is the view of the other version, nil where there is none to draw.
func (v *View) mark(older, newer *cue.Show, was *View, against string) {
	v.Against = against
	if older == nil || newer == nil {
		return
	}
	report := diff.Compare(older, newer)
	v.Changes = report.Summary
	for _, d := range report.Cues {
		i := slices.IndexFunc(v.Cues, func(c Cue) bool { return c.ID == d.ID })
		if i < 0 {
			continue // removed: the summary names it
		}
		c := &v.Cues[i]
		c.Diff = append(c.Diff, d.Notes...)
		for _, ch := range d.Channels {
			for _, change := range ch.Changes {
				if !change.Waiting || change.Param == diff.ParamOpen {
					line := ch.Player + ": " + change.Words
					for n, why := range change.Why {
						if n == 0 {
							line += " · "
						} else {
							line += ", "
						}
						line += why
					}
					c.Diff = append(c.Diff, line)
				}
			}
		}
		if d.Status == diff.Added || len(c.Diff) > 0 { // what only waits behind closed mics is not marked
			c.Mark = d.Status
		}
	}
	if was == nil || !slices.Equal(was.Keys, v.Keys) {
		return
	}
	for i := range v.Players {
		p := &v.Players[i]
		n := slices.IndexFunc(was.Players, func(q Player) bool { return q.Name == p.Name })
		if n >= 0 && !slices.Equal(was.Players[n].Way, p.Way) {
			p.Was = was.Players[n].Way
		}
	}
}
