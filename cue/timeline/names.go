package timeline

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/layout"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// found is a line that a name in the score refers to.
type found struct {
	line   int
	name   string
	byName bool // and not through a group
}

// named finds what a name or @group refers to at a moment, or reports why there is nothing.
func (x *Lines) named(name table.Text, at clock.Moment, cueID string, p *source.Problems) []found {
	if !name.Set {
		return nil
	}
	if len(name.V) > 0 && name.V[0] == '@' {
		return x.group(name, at, p)
	}
	for i := range x.List {
		if f := x.List[i].Fixed; f != nil && f.Name == name.V {
			return []found{{i, name.V, true}}
		}
	}
	if l, ok := x.LineOf(name.V, at); ok {
		return []found{{l, name.V, true}}
	}
	if _, ok := x.files.Roster.Player(name.V); ok {
		if x.unsure[name.V] || x.files.Roster.Unsure(name.V) {
			return nil
		}
		why, do := x.WhyNoMic(name.V, at)
		p.Add(wearsNoMic(name, cueID, why, do))
		return nil
	}
	x.unknown(name, p)
	return nil
}

// Who lists whose mics a name or @group opens at a moment. It reports nothing.
func (x *Lines) Who(name string, at clock.Moment) []string {
	var list []string
	var p source.Problems
	for _, f := range x.named(table.Text{V: name, Set: name != ""}, at, "", &p) {
		list = append(list, f.name)
	}
	return list
}

// ever finds all who bear a name, or belong to an @group, at any moment, or reports that nobody does.
func (x *Lines) ever(name table.Text, p *source.Problems) []string {
	if !name.Set {
		return nil
	}
	group, isGroup := strings.CutPrefix(name.V, "@")
	var list []string
	for i := range x.List {
		l := &x.List[i]
		if f := l.Fixed; f != nil && (f.Name == name.V || isGroup && f.Kind == group) {
			list = append(list, f.Name)
		}
		for _, w := range l.Wears {
			if w.Player == name.V || isGroup && w.Section == group {
				list = append(list, w.Player)
			}
		}
	}
	_, isPlayer := x.files.Roster.Player(name.V)
	switch {
	case len(list) > 0 || isPlayer:
	case isGroup:
		if groups := x.groups(); !slices.Contains(groups, group) {
			x.unknownGroup(name, groups, p)
		}
	default:
		x.unknown(name, p)
	}
	return list
}

// unknown reports a name that nobody has, unless it may be in a file that could not be read, or is that
// of a fixed mic whose channel is wrong.
func (x *Lines) unknown(name table.Text, p *source.Problems) {
	if _, marches := x.files.Drill.Player(name.V); marches && len(x.files.Roster.Players) > 0 {
		return // the roster lacks them, which is reported
	}
	if x.files.Roster.MayHold(name.V) || x.files.Rig.MayHold(name.V) || slices.ContainsFunc(x.files.Rig.Mics,
		func(m rig.Mic) bool { return m.Name == name.V }) {
		return
	}
	section := source.Nearest(name.V, x.groups())
	if section != "" && (strings.EqualFold(section, name.V) || source.Nearest(name.V, x.MicNames()) == "") {
		p.Add(withoutAt(name, section))
		return
	}
	p.Add(unknownName(name, x.MicNames()))
}

// WhyNoMic says why a player of the roster wears no mic at a moment, "" where they never do, and what to do.
func (x *Lines) WhyNoMic(player string, at clock.Moment) (why, do string) {
	var last, next *LineWear // the one before the moment, and the first after it
	var lastLine *Line
	for i := range x.List {
		l := &x.List[i]
		for k := range l.Wears {
			switch w := &l.Wears[k]; {
			case w.Player != player:
			case at.Before(w.From):
				if next == nil || w.From.Before(next.From) {
					next = w
				}
			case last == nil || !w.From.Before(last.From):
				last, lastLine = w, l
			}
		}
	}
	if last != nil {
		if now := lastLine.Holder(at); now != nil && now.Player != player {
			return fmt.Sprintf("%s went to %s at %d:%.4g (%s)", packWords(last), now.Player, now.From.Movement,
				now.From.Count(), rowOf(now)), fmt.Sprintf(`name %s here, or change "from"`, now.Player)
		}
	}
	if next != nil {
		return fmt.Sprintf("%s comes at %s (%s)", packWords(next), next.Wear.From.Text, rowOf(next)),
			`open the player later, or change "from"`
	}
	return "", "give the player a pack in the roster, or open someone who has one"
}

// packWords name the pack that a wearer has.
func packWords(w *LineWear) string {
	if w.Pack == "" {
		return fmt.Sprintf("channel %d", w.Channel)
	}
	return fmt.Sprintf("pack %s (channel %d)", w.Pack, w.Channel)
}

// rowOf is where the roster has a wearer: "roster.csv:5".
func rowOf(w *LineWear) string {
	line, _ := w.Span.Position()
	return fmt.Sprintf("%s:%d", w.Span.File.Name, line)
}

// MicNames lists everything that a cue could open: those who wear a mic first.
func (x *Lines) MicNames() []string {
	var names []string
	for _, l := range x.List {
		if l.Fixed != nil {
			names = append(names, l.Fixed.Name)
		}
		for _, w := range l.Wears {
			names = append(names, w.Player)
		}
	}
	return append(names, x.files.Roster.Names()...)
}

// group finds all lines of a section, or of a kind of fixed mic.
func (x *Lines) group(name table.Text, at clock.Moment, p *source.Problems) []found {
	group := name.V[1:]
	var list []found
	for i := range x.List {
		l := &x.List[i]
		if l.Fixed != nil {
			if l.Fixed.Kind == group {
				list = append(list, found{line: i, name: l.Fixed.Name})
			}
			continue
		}
		if w := l.Holder(at); w != nil && w.Section == group {
			list = append(list, found{line: i, name: w.Player})
		}
	}
	if len(list) > 0 {
		return list
	}
	groups := x.groups()
	if !slices.Contains(groups, group) {
		x.unknownGroup(name, groups, p)
	} else if !x.unsureGroup(group) {
		p.Add(nobodyHasMic(name))
	}
	return nil
}

// groups lists what may follow an @: the sections, and the kinds of fixed mic.
func (x *Lines) groups() []string {
	groups := x.files.Roster.Sections()
	for _, m := range x.files.Rig.Mics {
		if !slices.Contains(groups, m.Kind) {
			groups = append(groups, m.Kind)
		}
	}
	return groups
}

func (x *Lines) unknownGroup(name table.Text, groups []string, p *source.Problems) {
	group := name.V[1:]
	if x.files.Roster.MayHold(group) || x.files.Rig.MayHold(group) {
		return
	}
	p.Add(unknownSection(name, groups))
}

// unsureGroup reports whether a group may have a mic that could not be read.
func (x *Lines) unsureGroup(group string) bool {
	return slices.ContainsFunc(x.files.Rig.Mics,
		func(m rig.Mic) bool { return m.Kind == group }) ||
		slices.ContainsFunc(x.files.Roster.Players, func(player roster.Player) bool {
			return player.Section == group && (x.unsure[player.Name] || x.files.Roster.Unsure(player.Name))
		})
}

// LineOf returns the line of the mic that a player wears at a moment.
func (x *Lines) LineOf(player string, at clock.Moment) (int, bool) {
	for i := range x.List {
		if w := x.List[i].Holder(at); w != nil && w.Player == player {
			return i, true
		}
	}
	return 0, false
}

// Where returns the place of a line's mic at a moment; ok is false where nobody wears it or nothing is known of them.
func (x *Lines) Where(l *Line, at clock.Moment) (place layout.Point, ok bool) {
	return x.WhereWorn(l, l.Holder(at), at)
}

// WhereWorn returns the place of a line's mic at a moment, on a wearer who need not have it then.
func (x *Lines) WhereWorn(l *Line, w *LineWear, at clock.Moment) (place layout.Point, ok bool) {
	if l.Fixed != nil {
		return l.Fixed.At, true
	}
	if w == nil {
		return layout.Point{}, false
	}
	p, ok := x.files.Drill.Player(w.Player)
	if !ok {
		return layout.Point{}, false
	}
	place, ok = p.At(x.files.Drill, at.Movement, at.Elapsed)
	place.Z = w.HeightM
	return place, ok
}

// Few names a handful of players and counts the rest.
func Few(names []string) string {
	if len(names) > 4 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:4], ", "), len(names)-4)
	}
	return strings.Join(names, ", ")
}
