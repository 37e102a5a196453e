package causes

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"backfield/cue/diff"
	"backfield/cue/edits"
	"backfield/layout/source"
)

// mostLines is how many causes the text lists. A screen has no more, and the largest come first.
const mostLines = 24

// mostIdle is how many edits without effect are named.
const mostIdle = 3

// finish orders the causes, puts those together that are alike, and words them.
func (r *CauseReport) finish() {
	r.Causes = r.together(r.Causes)
	for i := range r.Causes {
		r.word(&r.Causes[i])
	}
	slices.SortStableFunc(r.Causes, func(a, b EditCause) int { return -cmp.Compare(a.Size, b.Size) })
	for i := range r.Causes {
		r.Causes[i].With = r.with(i)
	}
	if r.Rest != nil {
		r.word(r.Rest)
		r.Rest.Edit = "several edits together"
		if len(r.Rest.edits) == 0 {
			r.Rest.Edit = "also changed, cause not known"
		}
		if r.Rest.Changes == "" { // channels that come with the first cue: the lines of the cues say it
			r.Rest = nil
		}
	}
	if n := len(r.Causes); n > 0 && r.Rest == nil {
		if who := r.everybody(); len(who) == 1 {
			r.Causes[0].alone(who[0])
		}
	}
	r.blameIn()
}

// everybody is who is heard differently by any cause.
func (r *CauseReport) everybody() (all []string) {
	for _, c := range r.Causes {
		for _, p := range c.does.players() {
			if !slices.Contains(all, p) {
				all = append(all, p)
			}
		}
	}
	return all
}

// alone notes that only one player is heard differently at all.
func (c *EditCause) alone(who string) {
	if len(c.edits) == 1 && c.edits[0].Player == who {
		c.Changes += "; nobody else moves"
	}
}

// mostDots is how many lines the dots may have before those of each set are one line.
const mostDots = 16

// together makes one cause of the dots of a set that moved by the same steps, and if there are many, of all dots of a set.
func (r *CauseReport) together(list []EditCause) []EditCause {
	dots := 0
	all := joinDots(list, func(a, b edits.FileEdit) bool { return a.Words == b.Words })
	for _, c := range all {
		if c.edits[0].Dots {
			dots++
		}
	}
	if dots > mostDots {
		all = joinDots(all, func(a, b edits.FileEdit) bool { return a.Set == b.Set })
	}
	return all
}

// joinDots joins causes that are dots and alike.
func joinDots(list []EditCause, alike func(a, b edits.FileEdit) bool) []EditCause {
	all := []EditCause{}
	for _, c := range list {
		at := -1
		if c.edits[0].Dots {
			at = slices.IndexFunc(all, func(o EditCause) bool {
				return o.edits[0].Dots && alike(o.edits[0], c.edits[0])
			})
		}
		if at < 0 {
			all = append(all, c)
			continue
		}
		all[at].edits = slices.Concat(all[at].edits, c.edits)
		all[at].does = all[at].does.plus(c.does)
	}
	return all
}

// dotTitle words the dots of several players: "Tpt 1, 3 and 6, set 4: 4 steps back".
func dotTitle(list []edits.FileEdit) string {
	first, even, most := list[0], true, 0.0
	var players []string
	for _, e := range list {
		even = even && e.Words == first.Words
		most = max(most, e.Steps)
		if !slices.Contains(players, e.Of) {
			players = append(players, e.Of)
		}
	}
	switch {
	case even:
		return names(players) + ", " + first.Words
	case first.Set != "":
		return fmt.Sprintf("%s, set %s: by up to %.1f steps", names(players), first.Set, most)
	}
	return fmt.Sprintf("%s, many sets: by up to %.1f steps", names(players), most)
}

// word fills in what people and programs read of a cause.
func (r *CauseReport) word(c *EditCause) {
	var who []string
	if c.Changes != "" { // said already
		return
	}
	switch n := len(c.edits); {
	case n == 1:
		c.Edit = c.edits[0].Title()
	case n > 1 && c.edits[0].Dots:
		c.Edit = dotTitle(c.edits)
	case n > 1:
		c.Edit = r.joined(c)
	}
	for _, e := range c.edits {
		if e.Player != "" && !slices.Contains(who, e.Player) {
			who = append(who, e.Player)
		}
	}
	if players := c.does.players(); len(who) == len(players) { // in the order of the channels
		who = players
	}
	of := ""
	if len(c.edits) > 0 {
		of = strings.TrimPrefix(c.edits[0].Of, "cue ")
	}
	c.Changes, c.Size = r.changes(c.does, who, of), c.does.size()
	c.Cues, c.Channels = []string{}, []int{}
	for k := range c.does.keys {
		if k.cue != "" {
			c.Cues = append(c.Cues, k.cue)
		}
		if k.channel != 0 {
			c.Channels = append(c.Channels, k.channel)
		}
	}
	slices.Sort(c.Cues)
	c.Cues = r.inOrder(slices.Compact(c.Cues))
	slices.Sort(c.Channels)
	c.Channels = slices.Compact(c.Channels)
}

// joined words edits that were too many to try each: those of one cue, or of a kind.
func (r *CauseReport) joined(c *EditCause) string {
	var of, words []string
	for _, e := range c.edits {
		if !slices.Contains(of, e.Of) {
			of = append(of, e.Of)
		}
		words = append(words, e.Words)
	}
	if len(of) == 1 {
		return of[0] + ": " + strings.Join(words, "; ")
	}
	const most = 6
	if n := len(of); n > most {
		of = append(of[:most:most], fmt.Sprintf("%d more", n-most))
	}
	return count(len(c.edits), "edit") + " taken together: " + source.And(of)
}

// with lists what else changes some of what a cause changes.
func (r *CauseReport) with(at int) (list []string) {
	c := &r.Causes[at]
	for i := range r.Causes {
		if i == at {
			continue
		}
		o := &r.Causes[i]
		shares := func(h heardChange) bool { return o.does.keys[changeKey{h.cue, h.channel, class(h.ParamDiff)}] }
		times := func(id string) bool { return o.does.keys[changeKey{id, 0, diff.KindTime}] }
		if slices.ContainsFunc(c.does.heard, shares) || slices.ContainsFunc(c.does.timeCue, times) {
			list = append(list, o.Edit)
		}
	}
	return list
}

// Words that begin what matters less: in a line, and a line.
const (
	AlsoBy        = " (some of it also by"
	WithoutEffect = "without effect at the mixer: "
)

// Line is a cause in one line.
func (c *EditCause) Line() string {
	line := c.Edit
	switch {
	case c.Changes == "":
	case c.of:
		line += ": " + c.Changes
	default:
		line += "; " + c.Changes
	}
	switch n := len(c.With); {
	case n == 1:
		line += AlsoBy + " " + brief(c.With[0]) + ")"
	case n > 1:
		line += fmt.Sprintf("%s %d others)", AlsoBy, n)
	}
	return line
}

// brief is a title without how it was edited.
func brief(title string) string {
	short, _, _ := strings.Cut(title, ": ")
	return short
}

// Lines is the report for people: the summary, then a line for each cause, the largest first. There are none if nothing
// changed at the mixer.
func (r *CauseReport) Lines() (lines []string) {
	if r.Unchanged {
		return nil
	}
	lines = append(lines, r.Summary)
	for i := range r.Causes {
		if i == mostLines && len(r.Causes) > mostLines+1 {
			lines = append(lines, fmt.Sprintf("and %s with smaller changes (--full lists every channel)",
				count(len(r.Causes)-i, "more cause")))
			break
		}
		lines = append(lines, r.Causes[i].Line())
	}
	if r.Rest != nil {
		lines = append(lines, r.Rest.Line())
	}
	list := r.Idle
	if n := len(list); n > mostIdle {
		list = append(slices.Clone(list[:mostIdle]), fmt.Sprintf("%d more", n-mostIdle))
	}
	if r.Closed > 0 {
		list = append(slices.Clone(list), count(r.Closed, "dot")+" moved while the mic is closed")
	}
	if r.Unheard > 0 {
		list = append(slices.Clone(list), count(r.Unheard, "player")+" moved who wear no mic")
	}
	if len(list) > 0 {
		lines = append(lines, WithoutEffect+strings.Join(list, "; "))
	}
	return lines
}

// blameIn gives each change of the comparison the edits that cause it as its reasons.
func (r *CauseReport) blameIn() {
	for i := range r.Cues {
		d := &r.Cues[i]
		for j := range d.Channels {
			ch := &d.Channels[j]
			for n := range ch.Changes {
				x := &ch.Changes[n]
				var why []string
				if x.Waiting {
					why = append(why, "for its next entry")
				}
				for c := range r.Causes {
					if r.Causes[c].does.keys[changeKey{d.ID, ch.Channel, class(*x)}] {
						why = append(why, r.Causes[c].reasonOf(ch.Player))
					}
				}
				if len(why) > 0 {
					x.Why = why
				}
			}
		}
	}
}

// reasonOf is a cause as the reason of a player's change: of the dots of several players, their own.
func (c *EditCause) reasonOf(player string) string {
	for i := range c.edits {
		if c.edits[i].Player == player {
			return c.edits[i].Title()
		}
	}
	return c.Edit
}

// Messages adds that the mixer's file writes so many of the show's messages otherwise, though their numbers are the same.
func (r *CauseReport) Messages(differ, of int) {
	if differ == 0 {
		return
	}
	r.Causes = append(r.Causes, EditCause{
		Edit:    "mixer.toml: addresses, scales or types",
		Changes: fmt.Sprintf("%d of %s are sent otherwise", differ, count(of, "message")),
		Size:    sizeFade, does: newEffect(), Cues: []string{}, Channels: []int{},
	})
	if r.Unchanged {
		r.Unchanged, r.Summary = false, "the same numbers are sent in other messages"
	}
}

// Of lists what was edited: "Bari 6", "role feature".
func (c *EditCause) Of() (list []string) {
	for _, e := range c.edits {
		if !slices.Contains(list, e.Of) {
			list = append(list, e.Of)
		}
	}
	return list
}

// Places lists the cues and channels that a cause changes: "cue 5 channel 3", and "cue 5 channel 0" for a cue itself.
func (c *EditCause) Places() (list []string) {
	for k := range c.does.keys {
		list = append(list, fmt.Sprintf("cue %s channel %d", k.cue, k.channel))
	}
	slices.Sort(list)
	return slices.Compact(list)
}
