package console

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/layout/source"
	"backfield/osc/feed"
	"backfield/osc/glance"
	"backfield/osc/run"
)

const (
	cellMargin   = 9  // of a channel's cell, besides number and name: role, level with its mark, what comes next
	shortestName = 5  // cells; a name is not cut further
	roomyName    = 14 // cells; a longer name is cut rather than that there are fewer columns
	noteCells    = 30 // of what is said about a channel on a large screen
)

// channels lists the channels as the mixers have them, in columns. An overlay replaces it.
func (p painter) channels() partRows {
	if p.s.Sheet != nil || p.s.ViewAgeS < 0 || len(p.v.Rows) == 0 {
		return partRows{}
	}
	g := p.channelGrid()
	columns := max(p.width/(g.cell(min(g.widest, roomyName))+1), 1)
	if p.scale > 1 { // a large screen
		columns = max(p.width/(g.cell(g.widest)+noteCells+1), 1)
	}
	return partRows{rowsFor(len(p.v.Rows), columns), func(rows int) []textLine {
		most := max(p.width/(g.cell(min(shortestName, g.widest))+1), 1)
		for ; columns < most && rowsFor(len(p.v.Rows), columns) > rows; columns++ { // names are cut before channels
		}
		return g.draw(p, columns, rows)
	}}
}

// rowsFor is how many rows n cells take in so many columns.
func rowsFor(n, columns int) int { return (n + columns - 1) / columns }

// channelGrid is how wide the parts of a channel's cell are.
type channelGrid struct{ number, widest int }

func (p painter) channelGrid() channelGrid {
	g := channelGrid{number: 2}
	for _, r := range p.v.Rows {
		g.number = max(g.number, len(fmt.Sprint(r.Channel)))
		g.widest = max(g.widest, min(ansi.StringWidth(channelName(r)), maxNameCells))
	}
	return g
}

// cell is the width of a cell with a name this wide.
func (g channelGrid) cell(name int) int { return cellMargin + g.number + name }

// draw prints the channels column by column. It counts those that do not fit, and keeps those that differ.
func (g channelGrid) draw(p painter, columns, rows int) []textLine {
	list, hidden := p.v.Rows, 0
	if room := columns * rows; len(list) > room {
		hidden = len(list) - room + 1
		list = mostUrgent(list, room-1)
	}
	width := p.width / columns
	name := max(min(g.widest, width-1-g.cell(0)), 0)
	note := max(width-2-g.cell(name), 0)
	if p.scale == 1 || note < noteCells-4 {
		note = 0
	}
	high := rowsFor(len(list)+min(hidden, 1), columns)
	lines := make([]textLine, high)
	for i := range list {
		lines[i%high] = append(lines[i%high], p.channel(list[i], g.number, name, note).fill(width, plain)...)
	}
	if hidden > 0 {
		lines[len(list)%high] = append(lines[len(list)%high], styledText{fmt.Sprintf("  and %d more", hidden), bold})
	}
	return lines
}

// mostUrgent are n of the rows, those that differ before the others, in the order of their numbers.
func mostUrgent(rows []run.ChannelRow, n int) []run.ChannelRow {
	list := slices.Clone(rows)
	slices.SortStableFunc(list, func(a, b run.ChannelRow) int { return b.Sign.Rank() - a.Sign.Rank() })
	list = list[:max(n, 0)]
	slices.SortStableFunc(list, func(a, b run.ChannelRow) int { return a.Channel - b.Channel })
	return list
}

// channel is one channel: how it takes part, number, name, level and whether that is confirmed, and what the next cue does
// to it.
func (p painter) channel(r run.ChannelRow, number, name, note int) textLine {
	next, words := " ", clean(glance.Note(r))
	if glance.Differs(r) || p.noneConfirmed() && r.ShowOpen { // a line below says that
		words = clean(cmp.Or(r.Role, r.Kind))
	}
	if n := p.v.Next; n != nil && slices.Contains(n.Stops, r.Channel) {
		next, words = "×", words+"  closes next"
	}
	level, mark := glance.LevelText(r)
	how := bold
	if mark != " " {
		how = plain
	}
	shown := ansi.Truncate(channelName(r), name, "…")
	shown += strings.Repeat(" ", max(name-ansi.StringWidth(shown), 0))
	l := textLine{
		{fmt.Sprintf("%s%*d %s", roleMark(r), number, r.Channel, shown), plain},
		{fmt.Sprintf("%6.6s", level), how}, {mark, plain}, {next, bold},
	}
	if note > 0 {
		l = append(l, styledText{" " + ansi.Truncate(words, note, "…"), plain})
	}
	if glance.Differs(r) {
		l[0].textStyle = bold
	}
	return l
}

// channelName is the player's name, or the channel's number.
func channelName(r run.ChannelRow) string {
	switch name := clean(r.Player); {
	case name != "":
		return name
	case r.Sign == feed.ChannelOutside:
		return "not in show"
	}
	return fmt.Sprintf("channel %d", r.Channel)
}

// roleMark is a role as a stroke: closed for a feature, broken for a support, dotted for others. Manual is shaded.
func roleMark(r run.ChannelRow) string {
	switch {
	case glance.Differs(r):
		return manualFill
	case !r.ShowOpen:
		return " "
	case r.Role == "feature" || r.Role == "full":
		return "┃"
	case r.Role == "solo":
		return "║"
	case r.Role == "support":
		return "╏"
	}
	return "┆"
}

// differences lists the channels that are not as the show has them, a line each, or says that there are none.
func (p painter) differences() partRows {
	if p.s.Sheet != nil || p.s.ViewAgeS < 0 {
		return partRows{}
	}
	list := slices.DeleteFunc(slices.Clone(p.v.Rows), func(r run.ChannelRow) bool {
		return !glance.Differs(r) && (r.Sign != feed.ChannelWaiting || r.ShowOpen)
	})
	if len(list) == 0 {
		return fixedRows(styled(p.summary(), plain))
	}
	return partRows{len(list), func(rows int) (lines []textLine) {
		shown := list
		if rows < len(list) {
			shown = mostUrgent(list, rows)
		}
		for _, r := range shown {
			lines = append(lines, p.difference(r))
		}
		if hidden := len(list) - len(shown); hidden > 0 {
			last := len(lines) - 1
			more := styled(fmt.Sprintf("  and %d more", hidden), bold)
			lines[last] = append(lines[last].cut(p.width-more.width()), more...)
		}
		return lines
	}}
}

// difference is a channel that is not as the show has it: "ch 2   Tpt 3     -31.0 dB  MANUAL (show +0.5)". Where that does
// not fit, what can be spared goes first: the show's level, the rest of the mixer's name, and then what the commands do.
func (p painter) difference(r run.ChannelRow) textLine {
	level, _ := glance.NotedLevel(r)
	name := ansi.Truncate(channelName(r), maxNameCells, "…")
	l := styled(fmt.Sprintf("ch %-3d %-9s %9s  ", r.Channel, name, level), plain)
	words, at, hint := clean(glance.Note(r)), "", p.hint(r)
	if len(p.v.Mixers) > 1 && r.Mixer != "" {
		at = " at " + clean(glance.MixerName(r.Mixer))
	}
	room := p.width - l.width()
	over := func() bool { return ansi.StringWidth(words+at+hint) > room }
	if before, rest, ok := strings.Cut(words, " (show "); ok && over() {
		_, after, _ := strings.Cut(rest, ")")
		words = before + after
	}
	if at != "" && over() {
		at = " at " + clean(glance.MixerTail(r.Mixer, p.v.Mixers))
	}
	if at != "" && over() {
		hint = strings.NewReplacer(" closes it, :", " or :", " keeps it", "").Replace(hint)
	}
	if over() && room > 0 { // the hint is always there
		words, at = ansi.Truncate(words+at, max(room-ansi.StringWidth(hint), 0), "…"), ""
	}
	return append(l, styledText{words + at, bold}, styledText{hint, plain})
}

// hint is what to type about a channel that someone moved.
func (p painter) hint(r run.ChannelRow) string {
	does := glance.ReleaseWords(r)
	switch n := r.Channel; {
	case p.v.Follows() || does == "":
		return ""
	case r.Sign == feed.ChannelStillOpen && !r.Acked:
		return fmt.Sprintf("  :release %d %s, :ack %d keeps it", n, does, n)
	default:
		return fmt.Sprintf("  :release %d %s", n, does)
	}
}

// noneConfirmed reports whether no mixer has confirmed any open channel: then that is said once, in the summary.
func (p painter) noneConfirmed() bool {
	return !slices.ContainsFunc(p.v.Rows, func(r run.ChannelRow) bool {
		return r.ShowOpen && r.Sign != feed.ChannelWaiting && r.Sign != feed.ChannelSent
	})
}

// summary says how the open channels are where none was moved.
func (p painter) summary() string {
	open, waiting, sent := 0, 0, 0
	for _, r := range p.v.Rows {
		if !r.ShowOpen { // a held channel, or one that is still to close
			continue
		}
		switch open++; r.Sign {
		case feed.ChannelWaiting:
			waiting++
		case feed.ChannelSent:
			sent++
		}
	}
	channels := source.Count(float64(open), "open channel")
	if p.v.Follows() && open > 0 && p.v.Pair.Mixers == nil {
		return channels + ": as last heard of; nothing is confirmed (?)"
	}
	switch {
	case open == 0:
		words := glance.ClosedWords(p.v)
		return strings.ToUpper(words[:1]) + words[1:]
	case waiting == open && !p.v.Follows() && slices.ContainsFunc(p.v.Mixers, noReply):
		if len(p.v.Mixers) > 1 {
			return "Levels with ? are the last ones heard. A silent mixer gets everything later."
		}
		return "Levels are the last ones heard (?). The mixer gets everything once it replies."
	case waiting == open:
		return channels + ": none is confirmed by the mixer (?)"
	case waiting > 0:
		return fmt.Sprintf("%s: %d not confirmed by the mixer (?)", channels, waiting)
	case sent > 0:
		return channels + ": the mixer cannot confirm, these levels are what was sent (?)"
	}
	switch unsettled := func(d run.MixerView) bool { return !d.Done() || !d.Confirms }; {
	case p.v.Follows():
		return channels + ": all at the show's level, as the other laptop hears"
	case p.v.Hush && p.v.Only == "" && !slices.ContainsFunc(p.v.Mixers, unsettled):
		return "Worn mics: closed, confirmed by the mixer. Fixed mics stay open: " + fmt.Sprint(open)
	}
	return channels + ": all at the show's level, confirmed by the mixer"
}

func noReply(d run.MixerView) bool { return d.NoReply }
