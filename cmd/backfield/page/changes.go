package page

import (
	"slices"
	"strings"

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
		if i >= 0 { // else it is removed: the summary names it
			v.Cues[i].mark(d)
		}
	}
	if was != nil && slices.Equal(was.Keys, v.Keys) {
		v.markWays(was)
	}
}

// mark notes what differs of a cue. What only waits behind closed mics is no mark.
func (c *Cue) mark(d diff.CueDiff) {
	c.Diff = append(c.Diff, d.Notes...)
	for _, ch := range d.Channels {
		for _, change := range ch.Changes {
			if !change.Waiting || change.Param == diff.ParamOpen {
				c.Diff = append(c.Diff, diffLine(ch.Player, change))
			}
		}
	}
	if d.Status == diff.Added || len(c.Diff) > 0 {
		c.Mark = d.Status
	}
}

// diffLine is one change, with its reasons: "Tpt 3: delay 62.3 -> 58.8 ms (-3.5) · stands 6.0 steps further back, air".
func diffLine(player string, c diff.ParamDiff) string {
	line := player + ": " + c.Words
	if len(c.Why) > 0 {
		line += " · " + strings.Join(c.Why, ", ")
	}
	return line
}

// markWays keeps the earlier way of each player who walks otherwise.
func (v *View) markWays(was *View) {
	for i := range v.Players {
		p := &v.Players[i]
		n := slices.IndexFunc(was.Players, func(q Player) bool { return q.Name == p.Name })
		if n >= 0 && !slices.Equal(was.Players[n].Way, p.Way) {
			p.Was = was.Players[n].Way
		}
	}
}
