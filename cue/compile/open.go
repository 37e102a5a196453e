package compile

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// opening is one line open in one cue.
type opening struct {
	role    score.Role
	nudgeDB float64
	params  []chosen
	name    string      // of the player or fixed mic
	at      source.Span // where the score opened it
	named   bool        // by name, not through a group
	bad     bool        // the role is not known
}

// openAll works out what is open in each cue, in order of time.
func (r *Result) openAll(p *source.Problems) {
	r.checkAllow(p)
	r.checkParams(p)
	before := p.Errors()
	always := r.always(p)
	used := map[string]bool{}
	for i := range r.Cues {
		m := &r.Cues[i]
		m.open = map[int]opening{}
		if m.Cue.Keep {
			if i == 0 && !r.knowsBefore(m) {
				r.carry(m, always)
			} else if i == 0 {
				r.warn(m, "keep-nothing", m.Cue.ID.Span, fmt.Sprintf("cue %q keeps what the cue before opened, and is the first", m.Cue.ID.V), "leave out keep", p)
				r.carry(m, always)
			} else {
				r.keep(m, r.Cues[i-1].open, p)
			}
		} else {
			r.carry(m, always)
		}
		r.closeIn(m, p)
		r.openIn(m, p)
		r.nudgeIn(m, p)
		r.paramIn(m, p)
		for _, o := range m.open {
			used[o.name] = true
		}
	}
	for _, c := range r.unplaced {
		r.checkNames(c, used, p)
	}
	if p.Errors() > before {
		return // a misspelt name would make its bearer look unused
	}
	if len(r.Score.Cues) > 0 && !r.Roster.Partial && !r.Rig.Partial {
		r.checkUnused(used, p)
	}
}

// checkNames reports what is wrong with the names of a cue whose moment is not known.
func (r *Result) checkNames(c *score.Cue, used map[string]bool, p *source.Problems) {
	check := func(name table.Text) {
		for _, f := range r.ever(name, p) {
			used[f] = true
		}
	}
	for _, o := range c.Open {
		r.role(o.Role, p)
		for _, name := range o.Names {
			check(name)
		}
	}
	for _, name := range c.Close {
		check(name)
	}
	for _, n := range c.Nudges {
		check(n.Name)
	}
	for _, x := range c.Params {
		check(x.Of)
	}
}

// always reads [always]: fixed mics by name or group, with their roles.
func (r *Result) always(p *source.Problems) map[int]opening {
	open := map[int]opening{}
	for _, o := range r.Score.Always {
		role, ok := r.role(o.Role, p)
		for _, name := range o.Names {
			found := r.named(name, clock.Moment{Movement: 1}, "", p)
			for _, f := range found {
				if r.lines[f.line].fixed == nil {
					p.Error("always-worn", name.Span, fmt.Sprintf("%s wears his mic", f.name), "only fixed mics may stay open by themselves; open worn ones in cues")
					continue
				}
				if before, twice := open[f.line]; twice {
					p.Error("opened-twice", name.Span, fmt.Sprintf("%s stands twice under [always]", f.name), "keep one", source.Note{Span: before.at, Text: "first here"})
					continue
				}
				open[f.line] = opening{role: role, name: f.name, at: name.Span, bad: !ok}
			}
		}
	}
	return open
}

func (r *Result) role(name table.Text, p *source.Problems) (score.Role, bool) {
	role, ok := r.Score.Role(name.V)
	if !ok {
		p.Error("unknown-role", name.Span, fmt.Sprintf("no role %q in [mix]", name.V), source.DidYouMean(name.V, r.Score.RoleNames(), source.OneOfOr(r.Score.RoleNames(), "add it to [mix]")))
	}
	return role, ok
}

func (r *Result) carry(m *Moment, from map[int]opening) {
	for l, o := range from {
		m.open[l] = o
	}
}

// keep carries what the cue before had open; nudges and parameters are that cue's own. A player who has changed packs since
// is followed to his new one.
func (r *Result) keep(m *Moment, before map[int]opening, p *source.Problems) {
	for _, l := range sorted(before) {
		o := before[l]
		o.nudgeDB, o.params = 0, nil
		if r.lines[l].fixed != nil {
			m.open[l] = o
			continue
		}
		now, ok := r.lineOf(o.name, m.At)
		if !ok {
			p.Error("no-mic", m.Cue.ID.Span, fmt.Sprintf("cue %q keeps %s open, who has handed his mic over by then", m.Cue.ID.V, o.name), "write the cue without keep, or close him in a cue before the handover")
			continue
		}
		m.open[now] = o
	}
}

// knowsBefore tells whether it is known what a cue finds open: one that keeps what the cue before has open
// may come after one whose moment could not be found.
func (r *Result) knowsBefore(m *Moment) bool { return !m.Cue.Keep || len(r.unplaced) == 0 }

func sorted[T any](m map[int]T) []int {
	keys := make([]int, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Ints(keys)
	return keys
}

// closeIn closes. That it closes what is not open is only said while nothing is wrong: a misspelt "keep" or name
// would look like it. The same goes for a nudge.
func (r *Result) closeIn(m *Moment, p *source.Problems) {
	for _, name := range m.Cue.Close {
		found := r.named(name, m.At, m.Cue.ID.V, p)
		closed := false
		for _, f := range found {
			if _, ok := m.open[f.line]; ok {
				delete(m.open, f.line)
				closed = true
			}
		}
		if len(found) > 0 && !closed && r.knowsBefore(m) && p.Errors() == 0 {
			r.warn(m, "close-nothing", name.Span, fmt.Sprintf("%s is not open when cue %q closes it", name.V, m.Cue.ID.V), "leave it out: a cue without keep closes all that it does not open", p)
		}
	}
}

func (r *Result) openIn(m *Moment, p *source.Problems) {
	here := map[int]opening{}
	for _, o := range m.Cue.Open {
		role, ok := r.role(o.Role, p)
		for _, name := range o.Names {
			for _, f := range r.named(name, m.At, m.Cue.ID.V, p) {
				next := opening{role: role, name: f.name, at: name.Span, named: f.named, bad: !ok}
				before, twice := here[f.line]
				switch {
				case twice && before.named == next.named:
					p.Error("opened-twice", name.Span, fmt.Sprintf("%s is opened twice in cue %q", f.name, m.Cue.ID.V), "keep one", source.Note{Span: before.at, Text: "first here"})
				case twice && before.named: // the name beats the group
				default:
					here[f.line] = next
				}
			}
		}
	}
	r.carry(m, here)
}

func (r *Result) nudgeIn(m *Moment, p *source.Problems) {
	for _, n := range m.Cue.Nudges {
		found := r.named(n.Name, m.At, m.Cue.ID.V, p)
		for _, f := range found {
			o, ok := m.open[f.line]
			if !ok {
				if f.named && r.knowsBefore(m) && p.Errors() == 0 {
					r.warn(m, "nudge-closed", n.Name.Span, fmt.Sprintf("%s is nudged in cue %q and not open in it", n.Name.V, m.Cue.ID.V), "open it, or leave the nudge out", p)
				}
				continue
			}
			o.nudgeDB += n.DB
			m.open[f.line] = o
		}
	}
}

// found is a line that a name in the score stands for.
type found struct {
	line  int
	name  string
	named bool
}

// named finds what a name or @group stands for at a moment, or reports why nothing.
func (r *Result) named(name table.Text, at clock.Moment, cueID string, p *source.Problems) []found {
	if !name.Set {
		return nil
	}
	if len(name.V) > 0 && name.V[0] == '@' {
		return r.group(name, at, p)
	}
	for i := range r.lines {
		if f := r.lines[i].fixed; f != nil && f.Name == name.V {
			return []found{{i, name.V, true}}
		}
	}
	if l, ok := r.lineOf(name.V, at); ok {
		return []found{{l, name.V, true}}
	}
	if _, ok := r.Roster.Player(name.V); ok {
		if r.unsure[name.V] || r.Roster.Unsure(name.V) {
			return nil
		}
		p.Error("no-mic", name.Span, fmt.Sprintf("%s wears no mic%s", name.V, when(cueID)), r.whoWears(name.V))
		return nil
	}
	r.unknown(name, p)
	return nil
}

// ever finds all who bear a name, or belong to an @group, at any moment, or reports that nobody does.
func (r *Result) ever(name table.Text, p *source.Problems) []string {
	if !name.Set {
		return nil
	}
	group, isGroup := strings.CutPrefix(name.V, "@")
	var list []string
	for i := range r.lines {
		l := &r.lines[i]
		if f := l.fixed; f != nil && (f.Name == name.V || isGroup && f.Kind == group) {
			list = append(list, f.Name)
		}
		for _, w := range l.wears {
			if w.Player == name.V || isGroup && w.Section == group {
				list = append(list, w.Player)
			}
		}
	}
	_, isPlayer := r.Roster.Player(name.V)
	switch {
	case len(list) > 0 || isPlayer:
	case isGroup:
		if groups := r.groups(); !slices.Contains(groups, group) {
			r.unknownGroup(name, groups, p)
		}
	default:
		r.unknown(name, p)
	}
	return list
}

// unknown reports a name that nobody bears, unless it may stand in a file that could not be read, or is that
// of a fixed mic whose channel is wrong.
func (r *Result) unknown(name table.Text, p *source.Problems) {
	if r.Roster.MayHold(name.V) || r.Rig.MayHold(name.V) || slices.ContainsFunc(r.Rig.Mics, func(m rig.Mic) bool { return m.Name == name.V }) {
		return
	}
	p.Error("unknown-player", name.Span, fmt.Sprintf("no player and no fixed mic %q", name.V), source.DidYouMean(name.V, r.micNames(), "add it to the roster or to the rig, or mend the name; a section begins with @"))
}

func when(cueID string) string {
	if cueID == "" {
		return ""
	}
	return fmt.Sprintf(" in cue %q", cueID)
}

func (r *Result) whoWears(player string) string {
	for _, l := range r.lines {
		for _, w := range l.wears {
			if w.Player == player && w.ends {
				return fmt.Sprintf("he wears pack %s (channel %d) until movement %d, count %g", w.Pack, w.Channel, w.until.Movement, w.until.Count())
			}
			if w.Player == player {
				return fmt.Sprintf("he wears pack %s (channel %d) from %s on, and nobody has it after another takes it over", w.Pack, w.Channel, fromWords(w))
			}
		}
	}
	return "give him a pack in the roster, or open someone who has one"
}

func fromWords(w wear) string {
	if w.From.Text == "" {
		return "the beginning"
	}
	return w.From.Text
}

// micNames lists everything that a cue could open: those who wear a mic first.
func (r *Result) micNames() []string {
	var names []string
	for _, l := range r.lines {
		if l.fixed != nil {
			names = append(names, l.fixed.Name)
		}
		for _, w := range l.wears {
			names = append(names, w.Player)
		}
	}
	return append(names, r.Roster.Names()...)
}

// group finds all lines of a section, or of a kind of fixed mic.
func (r *Result) group(name table.Text, at clock.Moment, p *source.Problems) []found {
	group := name.V[1:]
	var list []found
	for i := range r.lines {
		l := &r.lines[i]
		if l.fixed != nil {
			if l.fixed.Kind == group {
				list = append(list, found{line: i, name: l.fixed.Name})
			}
			continue
		}
		if w := l.holder(at); w != nil && w.Section == group {
			list = append(list, found{line: i, name: w.Player})
		}
	}
	if len(list) > 0 {
		return list
	}
	groups := r.groups()
	if !slices.Contains(groups, group) {
		r.unknownGroup(name, groups, p)
	} else if !r.unsureGroup(group) {
		p.Error("no-mic", name.Span, fmt.Sprintf("nobody in section %q wears a mic then", group), "give one of them a pack in the roster, or leave the section out")
	}
	return nil
}

// groups lists what an @ may stand before: the sections, and the kinds of fixed mic.
func (r *Result) groups() []string {
	groups := r.Roster.Sections()
	for _, m := range r.Rig.Mics {
		if !slices.Contains(groups, m.Kind) {
			groups = append(groups, m.Kind)
		}
	}
	return groups
}

func (r *Result) unknownGroup(name table.Text, groups []string, p *source.Problems) {
	group := name.V[1:]
	if r.Roster.MayHold(group) || r.Rig.MayHold(group) {
		return
	}
	p.Error("unknown-section", name.Span, fmt.Sprintf("no section %q in the roster", group), source.DidYouMean(group, groups, "it is "+source.OneOf(groups)))
}

// unsureGroup tells whether a group may have a mic that could not be made out.
func (r *Result) unsureGroup(group string) bool {
	return slices.ContainsFunc(r.Rig.Mics, func(m rig.Mic) bool { return m.Kind == group }) || slices.ContainsFunc(r.Roster.Players, func(x roster.Player) bool {
		return x.Section == group && (r.unsure[x.Name] || r.Roster.Unsure(x.Name))
	})
}

// lineOf returns the line of the mic that a player wears at a moment.
func (r *Result) lineOf(player string, at clock.Moment) (int, bool) {
	for i := range r.lines {
		if w := r.lines[i].holder(at); w != nil && w.Player == player {
			return i, true
		}
	}
	return 0, false
}

// checkUnused finds mics that no cue opens.
func (r *Result) checkUnused(used map[string]bool, p *source.Problems) {
	for _, l := range r.lines {
		if l.fixed != nil && !used[l.fixed.Name] {
			p.Warn("never-open", l.fixed.Span, fmt.Sprintf("no cue opens fixed mic %q (channel %d)", l.fixed.Name, l.channel), "open it in a cue or under [always], or take it out")
		}
		for _, w := range l.wears {
			if !used[w.Player] {
				p.Warn("never-open", w.Span, fmt.Sprintf("%s wears pack %s (channel %d) and no cue opens it", w.Player, w.Pack, l.channel), "open it in a cue, or give the pack to another")
			}
		}
	}
}
