package tonight

import (
	"cmp"
	"slices"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/source"
	"backfield/layout/table"
)

// names goes through all names of the score: a substitute is named for the one they play for, and a name that has no mic
// tonight is gone. Nothing is reported: who is left in a role plays on.
func (n *layer) names() {
	kept := map[string]openPlace{}
	for i := range n.new.Score.Cues {
		c := &n.new.Score.Cues[i]
		if !c.Keep {
			kept = map[string]openPlace{}
		}
		n.namesIn(c, kept)
	}
	for i := range n.new.Score.Parts {
		x := &n.new.Score.Parts[i]
		x.Names = each(x.Names, n.player)
	}
}

// openPlace is the one that a substitute takes in a cue: their own, or that of the one they play for.
type openPlace struct {
	as    string  // the name that the score has
	role  int     // of the cue's roles; keptRole if they have it from the cue before
	level float64 // in dB
}

const keptRole = -1

// namesIn goes through the names of a cue. kept are the places of substitutes, by name, as the cue before leaves them.
func (n *layer) namesIn(c *score.Cue, kept map[string]openPlace) {
	at, placed := n.moments[c.ID.V]
	mic := func(name table.Text) (table.Text, bool) { return n.mic(name, at, placed) }
	n.takePlaces(c, kept, mic)
	n.openOnce(c, kept, mic)
	c.Close = eachOf(c.Close, func(x *table.Text) *table.Text { return x }, func(name table.Text) (table.Text, bool) {
		is, ok := mic(name)
		other, held := kept[is.V]
		return is, ok && !(held && other.as != name.V) // they stay open in the other's place
	})

	c.Nudges = pick(c.Nudges, func(x score.Nudge) table.Text { return x.Name }, n, kept)
	c.Nudges = eachOf(c.Nudges, func(x *score.Nudge) *table.Text { return &x.Name }, mic)
	c.Params = pick(c.Params, func(x score.ScoreParam) table.Text { return x.Of }, n, kept)
	c.Params = eachOf(c.Params, func(x *score.ScoreParam) *table.Text { return &x.Of }, mic)

	c.Plays, c.Rests = each(c.Plays, n.player), each(c.Rests, n.player)
	c.Dynamics = eachOf(c.Dynamics, func(x *score.StatedDynamics) *table.Text { return &x.Of }, n.player)
	c.Facing = eachOf(c.Facing, func(x *score.StatedFacing) *table.Text { return &x.Of }, n.player)
}

// takePlaces finds the place of each substitute in a cue: the louder one, where the cue has them and the one they play
// for.
func (n *layer) takePlaces(c *score.Cue, kept map[string]openPlace, mic func(table.Text) (table.Text, bool)) {
	named := func(list []table.Text, name string) bool {
		return slices.ContainsFunc(list, func(x table.Text) bool { return x.V == name })
	}
	for by, x := range kept {
		again := slices.ContainsFunc(c.Open, func(o score.RoleOpen) bool { return named(o.Names, x.as) })
		if again || named(c.Close, x.as) {
			delete(kept, by)
			continue
		}
		x.role = keptRole
		kept[by] = x
	}
	for i, x := range c.Open {
		role, _ := n.old.Score.Role(x.Role.V)
		for _, name := range x.Names {
			is, ok := mic(name)
			if !ok || !n.isSubstitute(is.V) {
				continue
			}
			if best, twice := kept[is.V]; !twice || role.LevelDB > best.level || best.as == name.V {
				kept[is.V] = openPlace{name.V, i, role.LevelDB}
			}
		}
	}
}

// openOnce names each substitute in one role of a cue alone, the one of their place.
func (n *layer) openOnce(c *score.Cue, kept map[string]openPlace, mic func(table.Text) (table.Text, bool)) {
	was := c.Open
	c.Open = nil
	for i, x := range was {
		seen := map[string]bool{}
		var names []table.Text
		for _, name := range each(x.Names, mic) {
			if n.isSubstitute(name.V) && (kept[name.V].role != i || seen[name.V]) {
				continue
			}
			seen[name.V] = true
			names = append(names, name)
		}
		if x.Names = names; len(names) > 0 {
			c.Open = append(c.Open, x)
		}
	}
}

func (n *layer) isSubstitute(name string) bool {
	for _, s := range n.takes {
		if s.By.V == name {
			return true
		}
	}
	return false
}

// pick leaves out what a cue says of a substitute under two names, except under the one whose place they take.
func pick[T any](list []T, name func(T) table.Text, n *layer, kept map[string]openPlace) []T {
	of := func(x T) string { // who it is about tonight
		if s, ok := n.takes[name(x).V]; ok {
			return s.By.V
		}
		return name(x).V
	}
	var left []T
	for _, x := range list {
		tonight := of(x)
		as := tonight
		if x, ok := kept[tonight]; ok {
			as = x.as
		}
		twice := slices.ContainsFunc(list, func(y T) bool { return of(y) == tonight && name(y).V != name(x).V })
		if !twice || name(x).V == as {
			left = append(left, x)
		}
	}
	return left
}

// each maps a list of names.
func each(list []table.Text, tonight func(table.Text) (table.Text, bool)) []table.Text {
	var left []table.Text
	for _, name := range list {
		if x, ok := tonight(name); ok {
			left = append(left, x)
		}
	}
	return left
}

// eachOf maps a list by the name in each.
func eachOf[T any](list []T, name func(*T) *table.Text, tonight func(table.Text) (table.Text, bool)) []T {
	var left []T
	for _, x := range list {
		if is, ok := tonight(*name(&x)); ok {
			*name(&x) = is
			left = append(left, x)
		}
	}
	return left
}

// player is who a name of the score is tonight; ok is false for one who is absent, and a section of which nobody is
// there.
func (n *layer) player(name table.Text) (is table.Text, ok bool) {
	if section, isSection := strings.CutPrefix(name.V, "@"); isSection {
		gone := slices.Contains(n.old.Roster.Sections(), section) && !slices.Contains(n.new.Roster.Sections(), section)
		return name, !gone
	}
	if s, ok := n.takes[name.V]; ok {
		name.V = s.By.V
	}
	return name, !n.isAbsent(name.V)
}

// mic is whom a name of the score opens at a moment tonight; ok is false where it had a mic and has none.
func (n *layer) mic(name table.Text, at clock.Moment, placed bool) (is table.Text, ok bool) {
	if is, ok = n.player(name); !ok || !placed {
		return is, ok
	}
	return is, len(n.had.Who(name.V, at)) == 0 || len(n.has.Who(is.V, at)) > 0
}

// lostLead is a cue whose loudest role nobody plays.
type lostLead struct {
	cue, role string
	players   []string
}

// warnOfLeads says once which cues have lost their lead, and what can be done.
func (n *layer) warnOfLeads() {
	tonight := timeline.NewClock(&n.new, &source.Problems{})
	var lost []lostLead
	for i := range n.old.Score.Cues {
		c := &n.old.Score.Cues[i]
		at, placed := n.moments[c.ID.V]
		if _, cut := tonight.CutAt(at); !placed || cut {
			continue
		}
		var lead score.RoleOpen
		var had []string
		loudest := 0.0
		for _, x := range c.Open {
			role, _ := n.old.Score.Role(x.Role.V)
			var who []string
			for _, name := range x.Names {
				who = append(who, n.had.Who(name.V, at)...)
			}
			if len(who) > 0 && (had == nil || role.LevelDB > loudest) {
				lead, had, loudest = x, who, role.LevelDB
			}
		}
		left := slices.ContainsFunc(lead.Names, func(name table.Text) bool {
			is, ok := n.mic(name, at, true)
			return ok && len(n.has.Who(is.V, at)) > 0
		})
		if len(had) > 0 && !left {
			lost = append(lost, lostLead{c.ID.V, lead.Role.V, had})
		}
	}
	if len(lost) == 0 {
		return
	}
	n.p.Add(nobodyLeads(n.blame(lost), lost, n.choicesFor(lost)))
}

// blame is where the plan takes the first of the lost leads away.
func (n *layer) blame(lost []lostLead) (at source.Span) {
	for _, x := range lost {
		for _, name := range x.players {
			if at, ok := n.absent[name]; ok {
				return at
			}
			if at, ok := n.dead[name]; ok {
				return at
			}
		}
	}
	return n.File.Whole()
}

// leadChoice is a player whose lead is lost, and who could play it.
type leadChoice struct {
	player, section string
	others          []string
	hasPack         bool // the player's own pack works, and could go to another
}

// choicesFor are the players of lost leads, each once, in order of their names in the roster.
func (n *layer) choicesFor(lost []lostLead) []leadChoice {
	var list []leadChoice
	for _, x := range lost {
		for _, name := range x.players {
			player, _ := n.old.Roster.Player(name)
			_, dead := n.dead[name]
			c := leadChoice{name, player.Section, n.choices(name), !dead}
			if !slices.ContainsFunc(list, func(o leadChoice) bool { return o.player == name }) {
				list = append(list, c)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b leadChoice) int {
		return cmp.Compare(slices.Index(n.old.Roster.Names(), a.player), slices.Index(n.old.Roster.Names(), b.player))
	})
	return list
}
