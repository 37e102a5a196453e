package edits

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/score"
	"backfield/cue/timeline"
)

func cueID(c score.Cue) string { return c.ID.V }

// cueEdits are the edits of the cues, matched by id. A cue that came where one went and that does the same is that one
// with a new id.
func cueEdits(old, new *score.Score, own ownParams) (list []FileEdit) {
	m := matchNames(names(old.Cues, cueID), names(new.Cues, cueID))
	for i, j := range m.inNew {
		if j >= 0 {
			continue
		}
		was := old.Cues[i]
		if j := renamed(was, new.Cues, m.inOld); j >= 0 {
			m.inOld[j], m.inNew[i] = i, j
			list = append(list, FileEdit{Of: "cue " + new.Cues[j].ID.V, Words: "was cue " + was.ID.V, Idle: true,
				Was: was.ID.V, Is: new.Cues[j].ID.V})
			continue
		}
		after := ""
		if i > 0 {
			after = old.Cues[i-1].ID.V
		}
		back := func(f *timeline.Files) {
			at := slices.IndexFunc(f.Score.Cues, func(c score.Cue) bool { return c.ID.V == after })
			f.Score.Cues = slices.Insert(f.Score.Cues, at+1, was)
		}
		list = append(list, FileEdit{Of: "cue " + was.ID.V, Words: "removed", rank: undoCues, undo: back})
	}
	for j, i := range m.inOld {
		is := new.Cues[j]
		if i >= 0 {
			list = append(list, oneCue(old.Cues[i], is, own)...)
			continue
		}
		list = append(list, FileEdit{Of: "cue " + is.ID.V, Words: "new", rank: undoCues, undo: func(f *timeline.Files) {
			f.Score.Cues = slices.DeleteFunc(f.Score.Cues, func(c score.Cue) bool { return c.ID.V == is.ID.V })
		}})
	}
	return append(list, cueOrder(old, new, m)...)
}

// renamed is the index of the only new cue that the old score lacks and that is the same under another id; -1 for none.
func renamed(was score.Cue, new []score.Cue, inOld []int) int {
	found := -1
	for j, is := range new {
		other := is
		other.ID, other.Name = was.ID, was.Name
		if inOld[j] < 0 && same(was, other) {
			if found >= 0 {
				return -1
			}
			found = j
		}
	}
	return found
}

// cueOrder is the order of the cues in the file, if those that both have are in another one. An automatic cue follows
// the one above it.
func cueOrder(old, new *score.Score, m byName) []FileEdit {
	last, moved := -1, ""
	for j, i := range m.inOld {
		if i < 0 {
			continue
		}
		if i < last {
			moved = new.Cues[j].ID.V
			break
		}
		last = i
	}
	if moved == "" {
		return nil
	}
	place := map[string]int{}
	for j, i := range m.inOld {
		if i >= 0 {
			place[new.Cues[j].ID.V] = i
		}
	}
	return []FileEdit{{Of: "show.toml", Words: "cue " + moved + " in another place in the file", rank: undoOrder,
		undo: func(f *timeline.Files) {
			at := func(c score.Cue) int {
				if i, ok := place[c.ID.V]; ok {
					return i
				}
				return slices.IndexFunc(old.Cues, func(o score.Cue) bool { return o.ID.V == c.ID.V })
			}
			slices.SortStableFunc(f.Score.Cues, func(a, b score.Cue) int { return at(a) - at(b) })
		}}}
}

// oneCue are the edits of a cue that both scores have.
func oneCue(was, is score.Cue, own ownParams) (list []FileEdit) {
	add := func(differs, idle bool, words, player string, undo func(c *score.Cue)) {
		if differs {
			list = append(list, FileEdit{Of: "cue " + is.ID.V, Words: words, Idle: idle, Player: player,
				undo: func(f *timeline.Files) {
					for i := range f.Score.Cues {
						if f.Score.Cues[i].ID.V == is.ID.V {
							undo(&f.Score.Cues[i])
						}
					}
				}})
		}
	}
	add(was.Name.V != is.Name.V, true, fmt.Sprintf("renamed %q -> %q", was.Name.V, is.Name.V), "",
		func(c *score.Cue) { c.Name = was.Name })
	add(was.Auto != is.Auto || was.AfterCounts != is.AfterCounts || !same(was.Position, is.Position) ||
		was.Placed != is.Placed, false, "moved, "+whenWords(was)+" -> "+whenWords(is), "",
		func(c *score.Cue) {
			c.At, c.Position, c.Placed = was.At, was.Position, was.Placed
			c.Auto, c.AfterCounts = was.Auto, was.AfterCounts
		})
	add(!same(was.Open, is.Open) || !same(was.Close, is.Close) || was.Keep != is.Keep, false, openWords(was, is), "",
		func(c *score.Cue) { c.Open, c.Close, c.Keep = was.Open, was.Close, was.Keep })
	add(was.FadeCounts != is.FadeCounts || !same(was.FadeOut, is.FadeOut), false, fadeWords(was, is), "",
		func(c *score.Cue) { c.FadeCounts, c.FadeOut = was.FadeCounts, was.FadeOut })
	add(!same(was.EarlyCounts, is.EarlyCounts), false,
		fromMaybe("open_early", was.EarlyCounts, is.EarlyCounts, " counts"), "",
		func(c *score.Cue) { c.EarlyCounts = was.EarlyCounts })
	add(!same(was.Box, is.Box), false, "press box "+boxWords(was.Box)+" -> "+boxWords(is.Box), "",
		func(c *score.Cue) { c.Box = was.Box })
	add(was.Policy != is.Policy, false, "policy "+orOpen(was.Policy)+" -> "+orOpen(is.Policy), "",
		func(c *score.Cue) { c.Policy = was.Policy })
	add(!same(was.Nudges, is.Nudges), false, nudgeWords(was.Nudges, is.Nudges), "",
		func(c *score.Cue) { c.Nudges = was.Nudges })
	add(!same(was.Params, is.Params), false, own.words(was.Params, is.Params), "",
		func(c *score.Cue) { c.Params = was.Params })
	add(!same(was.Also, is.Also), false, extraMessages, "", func(c *score.Cue) { c.Also = was.Also })
	add(!same(was.Plays, is.Plays) || !same(was.Rests, is.Rests) || !same(was.Dynamics, is.Dynamics) ||
		!same(was.Facing, is.Facing), false, loudWords(was, is), "", func(c *score.Cue) {
		c.Plays, c.Rests, c.Dynamics, c.Facing = was.Plays, was.Rests, was.Dynamics, was.Facing
	})
	for i := range list { // these two are of the cue alone
		if list[i].Words == extraMessages || strings.HasPrefix(list[i].Words, "fade") {
			list[i].Cue = is.ID.V
		}
	}
	allowed := few(listWords(texts(was.Allow), texts(is.Allow)))
	add(!same(was.Allow, is.Allow), true, "accepted warnings "+allowed, "", func(c *score.Cue) { c.Allow = was.Allow })
	return list
}

const extraMessages = "extra messages"

// whenWords is when a cue goes, as written.
func whenWords(c score.Cue) string {
	if c.Auto {
		return counts(c.AfterCounts) + " after the cue above"
	}
	return orNone(c.At.V)
}

func fadeWords(was, is score.Cue) string {
	var words []string
	if was.FadeCounts != is.FadeCounts {
		words = append(words, "fade "+number(was.FadeCounts)+" -> "+counts(is.FadeCounts))
	}
	if !same(was.FadeOut, is.FadeOut) {
		words = append(words, fromMaybe("fade_out", was.FadeOut, is.FadeOut, " counts"))
	}
	return strings.Join(words, ", ")
}

func counts(n float64) string {
	if n == 1 {
		return "1 count"
	}
	return number(n) + " counts"
}

// openWords says who is on which list now, and who no longer is: "feature +Tpt 3, -Mello 2".
func openWords(was, is score.Cue) string {
	words := roleLists(was.Open, is.Open)
	if changed := listWords(texts(was.Close), texts(is.Close)); len(changed) > 0 {
		words = append(words, "close "+few(changed))
	}
	if was.Keep != is.Keep {
		words = append(words, "keep "+onOff(was.Keep)+" -> "+onOff(is.Keep))
	}
	if len(words) == 0 {
		return "its lists in another order"
	}
	return strings.Join(words, "; ")
}

// few is a list that is cut where it gets long.
func few(words []string) string {
	const most = 8
	if n := len(words); n > most {
		return strings.Join(words[:most], ", ") + fmt.Sprintf(" and %d more", n-most)
	}
	return strings.Join(words, ", ")
}

func nudgeWords(old, new []score.Nudge) string {
	key := func(n score.Nudge) string { return n.Name.V }
	m := matchNames(names(old, key), names(new, key))
	var words []string
	for j, i := range m.inOld {
		was := 0.0
		if i >= 0 {
			was = old[i].DB
		}
		if was != new[j].DB || i < 0 {
			words = append(words, from(new[j].Name.V, was, new[j].DB, " dB"))
		}
	}
	for i, j := range m.inNew {
		if j < 0 {
			words = append(words, from(old[i].Name.V, old[i].DB, 0, " dB"))
		}
	}
	if len(words) == 0 {
		return "nudges in another order"
	}
	return "nudge " + few(words)
}
