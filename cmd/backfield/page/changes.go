package page

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/causes"
	"backfield/cue/compile"
	"backfield/cue/diff"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
)

// mark notes in a view what differs from an older version of the show: the cues on the timeline, and the players with a
// different path. was is the view of the older version; nil if there is none to draw.
func (v *ShowView) mark(older, newer *show.Loaded, was *ShowView, against string) {
	v.Against = against
	if older == nil || newer == nil || older.Show == nil || newer.Show == nil {
		return
	}
	report := diff.Compare(older.Show, newer.Show)
	v.Changes = report.Summary
	for _, d := range report.Cues {
		i := slices.IndexFunc(v.Cues, func(c CueView) bool { return c.ID == d.ID })
		if i >= 0 { // a removed cue is only in the summary
			v.Cues[i].mark(d)
		}
	}
	if was != nil && slices.Equal(was.Keys, v.Keys) {
		v.markPaths(was)
	}
}

// edits has a line for each edit between two versions, with what it changes: the account of backfield diff. It compiles the
// show with edits taken back, so it is only made for who asks.
func edits(older, newer *show.Loaded) []string {
	if older == nil || older.Show == nil {
		return []string{}
	}
	memo := &work.Memo{}
	compiled := func(f *timeline.Files, _ float64) *cue.Show {
		var p source.Problems // those of a show that nobody wrote
		return compile.Compile(compile.Input{Files: *f, Memo: memo}, &p).Show
	}
	report := causes.Find(causes.ShowVersion{Files: &older.Input.Files, Show: older.Show},
		causes.ShowVersion{Files: &newer.Input.Files, Show: newer.Show}, compiled)
	lines := report.Lines()
	if len(lines) > 0 && strings.HasPrefix(lines[0], report.Summary) {
		lines = lines[1:] // the page has the sum above the list
	}
	return append([]string{}, lines...)
}

// serveChanges answers what each edit changes, as lines.
func (t *Site) serveChanges(w http.ResponseWriter, r *http.Request) {
	if _, _, ok := t.drawnShow(w); !ok {
		return
	}
	t.mu.Lock()
	made := t.edits
	t.mu.Unlock()
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(made())
}

// mark notes what differs in a cue. A change to a closed mic does not count.
func (c *CueView) mark(d diff.CueDiff) {
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

// diffLine is one change with its reasons: "Tpt 3: delay 62.3 -> 58.8 ms (-3.5) · 6.0 steps farther back, air".
func diffLine(player string, c diff.ParamDiff) string {
	line := player + ": " + c.Words
	if len(c.Why) > 0 {
		line += " · " + strings.Join(c.Why, ", ")
	}
	return line
}

// markPaths keeps the older path of each player whose path has changed.
func (v *ShowView) markPaths(was *ShowView) {
	for i := range v.Players {
		p := &v.Players[i]
		n := slices.IndexFunc(was.Players, func(q PlayerView) bool { return q.Name == p.Name })
		if n >= 0 && !slices.Equal(was.Players[n].Path, p.Path) {
			p.Was = was.Players[n].Path
		}
	}
}
