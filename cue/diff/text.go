package diff

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// Text writes the comparison for people: the summary, what holds for the whole show, then cue by cue the channels that
// differ, largest first, each with its reasons. It writes nothing if nothing differs at the mixer.
func (r *Comparison) Text(w io.Writer) {
	if r.SameAtMixer() {
		return
	}
	fmt.Fprintln(w, r.Summary)
	if len(r.Whole) > 0 {
		fmt.Fprintln(w, "\nwhole show")
		for _, c := range r.Whole {
			fmt.Fprintf(w, "  %s%s\n", c.Words, moves(c.Params))
		}
	}
	for _, c := range r.Cues {
		head := "cue " + c.ID
		if c.Name != "" {
			head += fmt.Sprintf(" %q", c.Name)
		}
		head += " (" + c.At + ")"
		if c.Status != Changed {
			head += " " + c.Status
		}
		fmt.Fprintf(w, "\n%s\n", head)
		for _, n := range c.Notes {
			fmt.Fprintf(w, "  %s\n", n)
		}
		r.channels(w, c.Channels)
	}
}

// moves is what a cause can change: "(delays, pans)".
func moves(params []string) string {
	if len(params) == 0 {
		return ""
	}
	return " (" + strings.Join(params, "s, ") + "s)"
}

// channels writes the channels of one cue, and how many closed ones change.
func (r *Comparison) channels(w io.Writer, list []ChannelDiff) {
	width := 0
	for _, c := range list {
		width = max(width, len([]rune(c.Player)))
	}
	waiting := 0
	for _, c := range list {
		shown := c.shown(r.Full)
		if len(shown) == 0 {
			waiting++
			continue
		}
		label := fmt.Sprintf("  %3d %-*s  ", c.Channel, width, c.Player)
		for _, group := range byReason(shown) {
			var words []string
			for _, x := range group {
				words = append(words, x.Words)
			}
			fmt.Fprintf(w, "%s%s\n", label, strings.Join(words, ", "))
			label = strings.Repeat(" ", 8+width)
			if why := group[0].Why; len(why) > 0 {
				fmt.Fprintf(w, "%s  why: %s\n", label, strings.Join(why, "; "))
			}
		}
	}
	if waiting > 0 {
		fmt.Fprintf(w, "  closed channels move: %d (pan/delay for their next entry)\n", waiting)
	}
}

// shown are the changes that Text lists: those that are heard, and with full the others too. A change of role that
// shows in the level is left out, since the level has it as its reason.
func (c ChannelDiff) shown(full bool) []ParamDiff {
	leveled := slices.ContainsFunc(c.Changes, func(x ParamDiff) bool { return x.Param == ParamLevel })
	var list []ParamDiff
	for _, x := range c.Changes {
		if x.Waiting && !full || x.Param == ParamRole && leveled {
			continue
		}
		list = append(list, x)
	}
	return list
}

// byReason joins adjacent changes that have the same reasons.
func byReason(changes []ParamDiff) [][]ParamDiff {
	var groups [][]ParamDiff
	for _, c := range changes {
		if last := len(groups) - 1; last >= 0 && slices.Equal(groups[last][0].Why, c.Why) {
			groups[last] = append(groups[last], c)
		} else {
			groups = append(groups, []ParamDiff{c})
		}
	}
	return groups
}

// summary is the comparison in one line. times is what movedCues says.
func summary(r *Comparison, times string) string {
	changed, added, removed := 0, 0, 0
	for _, c := range r.Cues {
		switch {
		case c.Status == Added:
			added++
		case c.Status == Removed:
			removed++
		case c.Mixer:
			changed++
		}
	}
	h := heardChanges(r)
	var parts []string
	switch cues := count(changed, "cue"); {
	case changed > 0 && h.channels > 0:
		mics := "" // where two players share a pack, there are more
		if h.mics > h.channels {
			mics = " (" + count(h.mics, "mic") + ", since some share a channel)"
		}
		parts = append(parts, cues+" and "+count(h.channels, "channel")+mics+" differ")
	case changed == 1:
		parts = append(parts, cues+" differs")
	case changed > 0:
		parts = append(parts, cues+" differ")
	}
	if added > 0 {
		parts = append(parts, count(added, "cue")+" added")
	}
	if removed > 0 {
		parts = append(parts, count(removed, "cue")+" removed")
	}
	if times != "" {
		parts = append(parts, times)
	}
	if len(parts) == 0 {
		parts = append(parts, "the mixer's channels differ")
	}
	if h.where != "" {
		parts = append(parts, "largest: "+h.where+" "+short(h.largest))
	}
	return strings.Join(parts, "; ")
}

// heardSummary is what a comparison has of changes that are heard.
type heardSummary struct {
	channels int       // how many have any
	mics     int       // how many players and fixed mics have any
	largest  ParamDiff // of all
	where    string    // the cue and player of the largest; empty for none
}

// heardChanges sums up all changes except those that wait behind closed mics and those of the role alone.
func heardChanges(r *Comparison) heardSummary {
	var h heardSummary
	numbers, players := map[int]bool{}, map[string]bool{}
	for _, c := range r.Cues {
		for _, ch := range c.Channels {
			for _, x := range ch.Changes {
				if x.Waiting || x.Param == ParamRole {
					continue
				}
				numbers[ch.Channel], players[ch.Player] = true, true
				if x.Size > h.largest.Size {
					h.largest, h.where = x, fmt.Sprintf("cue %s %s", c.ID, ch.Player)
				}
			}
		}
	}
	h.channels, h.mics = len(numbers), len(players)
	return h
}

// short is a change in the words of the summary.
func short(c ParamDiff) string {
	param := c.Param
	path := ""
	if param == ParamPath {
		param, path = c.Of, "path: "
	}
	switch by := float64(c.New - c.Old); param {
	case ParamOpen:
		if c.New == 1 {
			return "opened"
		}
		return "closed"
	case ParamDelay:
		return path + "delay " + signed(by, 1) + " ms"
	case ParamLevel:
		return path + "level " + signed(by, 1) + " dB"
	case ParamPan:
		return path + "pan " + farther(by)
	case ParamPlace:
		return path + "place " + signed(by, 2)
	}
	return c.Words
}
