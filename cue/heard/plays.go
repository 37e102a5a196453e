package heard

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/balance"
	"backfield/cue/timeline"
	"backfield/layout/table"
)

// openRests warns about an open mic on a player of whom the cue says that the player rests.
func (x *JudgedShow) openRests(i int, remarks *timeline.Remarks) {
	q, open := x.Cues[i].Cue, x.Cues[i].Open
	for _, n := range timeline.Sorted(open) {
		for _, v := range x.Roster.Players {
			k := stated(q.Rests, v.Name, v.Section)
			if v.Name != open[n].Name || k < 0 || q.Rests[k].V != v.Name && stated(q.Plays, v.Name, "") >= 0 {
				continue
			}
			remarks.About(q, "open-rests", q.Rests[k].Span,
				fmt.Sprintf("cue %q: %s rests, but the mic is open", q.ID.V, v.Name),
				fmt.Sprintf("take %s out of rests, or do not open the mic", v.Name))
		}
	}
}

// stated is where a list has a player, or else the section; -1 where it has neither.
func stated(list []table.Text, name, section string) int {
	if k := slices.IndexFunc(list, func(t table.Text) bool { return t.V == name }); k >= 0 {
		return k
	}
	return slices.IndexFunc(list, func(t table.Text) bool { return t.V == "@"+section })
}

// dynamicsUnused warns about dynamics of players who, as far as the show says, do not play.
func (x *JudgedShow) dynamicsUnused(c *balance.CueLoudness, remarks *timeline.Remarks) {
	q := x.Cues[c.Cue].Cue
	for _, d := range q.Dynamics {
		if !slices.ContainsFunc(c.NotCounted, func(u balance.Uncounted) bool {
			if section, whole := strings.CutPrefix(d.Of.V, "@"); whole {
				return u.Section == section && len(u.But) == 0
			}
			return slices.Contains(u.Names, d.Of.V)
		}) {
			continue
		}
		remarks.About(q, "dynamics-unused", d.Of.Span,
			fmt.Sprintf("cue %q says how loudly %s plays, but nothing says that it plays: it is not counted", q.ID.V,
				d.Of.V), fmt.Sprintf("add plays = [%s] to the cue, or remove these dynamics", table.Quote(d.Of.V)))
	}
}
