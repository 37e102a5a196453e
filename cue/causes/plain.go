package causes

import (
	"cmp"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/diff"
	"backfield/layout/source"
)

// Compiled compares two compiled shows whose files nobody has. A line is what differs for the whole show, for a cue, or for
// a player, with the reasons that the snapshots have.
func Compiled(old, new *cue.Show) *CauseReport {
	r := &CauseReport{Comparison: diff.Compare(old, new), old: old, new: new, Causes: []EditCause{}}
	for _, w := range r.Whole {
		r.Causes = append(r.Causes, EditCause{Edit: w.Words, Cues: []string{}, Channels: []int{}, Size: sizeCue,
			does: newEffect()})
	}
	measured := measure(old, new, r.Comparison, nil)
	if times := r.timed(measured); times != "" {
		r.Causes = append(r.Causes, EditCause{Edit: times, Cues: r.inOrder(measured.timeCue), Channels: []int{},
			Size: sizeTime, does: newEffect()})
	}
	kinds := diff.CueKinds(old, new)
	for _, d := range r.Cues {
		notes := slices.DeleteFunc(slices.Clone(d.Notes), func(n string) bool { return strings.HasPrefix(n, "comes ") })
		if len(notes) == 0 || d.Status == diff.Changed && len(kinds[d.ID]) == 0 {
			continue
		}
		edit := "cue " + d.ID
		if d.Status != diff.Changed {
			edit += " " + d.Status
		}
		r.Causes = append(r.Causes, EditCause{Edit: edit, Changes: strings.Join(notes, "; "), Cues: []string{d.ID},
			Channels: []int{}, Size: sizeFade, does: newEffect(), of: true})
	}
	var groups []string
	byGroup := map[string]*EditCause{}
	for _, h := range measured.heard {
		name, edit := r.reason(h)
		c := byGroup[name]
		if c == nil {
			c = &EditCause{Edit: edit, does: newEffect(), of: true}
			byGroup[name], groups = c, append(groups, name)
		}
		c.does.heard = append(c.does.heard, h)
		c.does.keys[changeKey{h.cue, h.channel, class(h.ParamDiff)}] = true
	}
	var list []EditCause
	for _, g := range groups {
		c := byGroup[g]
		if who := c.does.players(); len(who) == 1 && c.Edit == who[0] {
			c.Changes = r.changes(c.does, who, "") + r.places(c.does)
		} else {
			c.Changes = r.changes(c.does, nil, "")
		}
		c.Size, c.Cues, c.Channels = c.does.size(), r.cuesIn(c.does.heard), channelsOf(c.does.heard)
		list = append(list, *c)
	}
	slices.SortStableFunc(list, func(a, b EditCause) int { return -cmp.Compare(a.Size, b.Size) })
	r.Causes = append(r.Causes, list...)
	if n := len(measured.waiting); n > 0 && len(r.Causes) == 0 {
		r.Causes = append(r.Causes, EditCause{Edit: "closed mics", of: true, Cues: r.cuesIn(measured.waiting),
			Channels: channelsOf(measured.waiting), does: measured,
			Changes: "pan and delay for their next entry in " + r.cueWords(r.cuesIn(measured.waiting))})
	}
	return r
}

func channelsOf(list []heardChange) []int {
	var channels []int
	for _, h := range list {
		channels = append(channels, h.channel)
	}
	slices.Sort(channels)
	return slices.Compact(channels)
}

// reason is the group of a change, and its title: what holds for the whole show, or the player.
func (r *CauseReport) reason(h heardChange) (group, title string) {
	whole := len(h.Why) > 0
	var words []string
	for _, why := range h.Why {
		if !slices.ContainsFunc(r.Whole, func(c diff.Cause) bool { return c.Tag == why }) {
			whole = false
		}
		words = append(words, why)
	}
	if whole {
		by := "by " + source.And(words)
		return by, by
	}
	return "player " + h.player, h.player
}

// places says how a player stands otherwise, as the first reasons have it.
func (r *CauseReport) places(e *effect) string {
	var words []string
	more := false
	for _, h := range e.heard {
		for _, why := range h.Why {
			text := why
			switch {
			case slices.Contains(words, text):
			case len(words) < 2:
				words = append(words, text)
			default:
				more = true
			}
		}
	}
	if len(words) == 0 {
		return ""
	}
	text := " (" + strings.Join(words, "; ")
	if more {
		text += "; ..."
	}
	return text + ")"
}
