package causes

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/cue"
	"backfield/cue/diff"
	"backfield/cue/edits"
	"backfield/layout/source"
)

// kindOf is what an edit is of, for those that are too many to try each: "cue", "role", "mixer".
func kindOf(e edits.FileEdit) string {
	kind, _, _ := strings.Cut(e.Of, " ")
	return kind
}

func count(n int, what string) string { return source.Count(float64(n), what) }

// number prints v with one decimal, or two below 1.
func number(v float64) string {
	if math.Abs(v) < 1 {
		return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 2, 64), "0")
	}
	return strconv.FormatFloat(v, 'f', 1, 64)
}

// numbered is a name that ends in a number: "Tpt 3".
var numbered = regexp.MustCompile(`^(.*\D) (\d+)$`)

// names lists names short: "Tpt 1, 3 and 6" and, for many, "12 players".
func names(list []string) string {
	const most = 8
	if len(list) > most {
		return count(len(list), "mic")
	}
	var words []string
	last := ""
	for _, name := range list {
		m := numbered.FindStringSubmatch(name)
		if m != nil && m[1] == last {
			words = append(words, m[2])
			continue
		}
		last = ""
		if m != nil {
			last = m[1]
		}
		words = append(words, name)
	}
	return source.And(words)
}

// cuesIn lists the cues of changes in the order of the show.
func (r *CauseReport) cuesIn(list []heardChange) []string {
	var ids []string
	for _, h := range list {
		if !slices.Contains(ids, h.cue) {
			ids = append(ids, h.cue)
		}
	}
	return r.inOrder(ids)
}

// inOrder sorts ids of cues in the order of the new show, those that it lacks last.
func (r *CauseReport) inOrder(ids []string) []string {
	place := map[string]int{}
	for i, c := range r.new.Cues {
		place[c.ID] = i
	}
	at := func(id string) int {
		if i, ok := place[id]; ok {
			return i
		}
		return len(place)
	}
	ids = slices.Clone(ids)
	slices.SortStableFunc(ids, func(a, b string) int { return at(a) - at(b) })
	return slices.Compact(ids)
}

// cueWords lists cues: "cue 4", "cues 4 and 5", "cues 4 to 9", "14 cues, 2 to 27".
func (r *CauseReport) cueWords(ids []string) string {
	n := len(ids)
	switch {
	case n == 1:
		return "cue " + ids[0]
	case n > 2 && r.adjacent(ids):
		return "cues " + ids[0] + " to " + ids[n-1]
	case n > 6:
		return fmt.Sprintf("%d cues, %s to %s", n, ids[0], ids[n-1])
	}
	return "cues " + source.And(ids)
}

func (r *CauseReport) adjacent(ids []string) bool {
	at := slices.IndexFunc(r.new.Cues, func(c cue.Snapshot) bool { return c.ID == ids[0] })
	for i, id := range ids {
		if at < 0 || at+i >= len(r.new.Cues) || r.new.Cues[at+i].ID != id {
			return false
		}
	}
	return true
}

// changes says what an effect is, the largest first. who is whom the line is about, who need not be named again, and of is
// the cue that it is about: what is otherwise in that cue itself is in its title.
func (r *CauseReport) changes(e *effect, who []string, of string) string {
	var parts []string
	add := func(text string) {
		if text != "" {
			parts = append(parts, text)
		}
	}
	if ids := e.cues[whatAdded]; len(ids) > 0 {
		add(r.openIn(ids))
	}
	gone := slices.DeleteFunc(slices.Clone(e.cues[whatRemoved]), func(id string) bool { return id == of })
	if len(gone) > 0 {
		add("leaves out " + r.cueWords(gone))
	}
	add(r.opened(e))
	add(r.timed(e))
	add(r.leveled(e, who))
	add(r.moved(e, who))
	add(r.ownSet(e, who))
	for _, kind := range []string{diff.KindFade, diff.KindExtra, diff.KindEarly, diff.KindOrder} {
		ids := slices.DeleteFunc(slices.Clone(e.cues[kind]), func(id string) bool { return id == of })
		if len(ids) > 0 {
			add(kindWords[kind] + " in " + r.cueWords(r.inOrder(ids)))
		}
	}
	if len(parts) == 0 && len(e.waiting) > 0 {
		add("only closed mics move, for their next entry, in " + r.cueWords(r.cuesIn(e.waiting)))
	}
	if len(parts) == 0 && of == "" {
		add("channels, roles or parameters of the show")
	}
	return strings.Join(parts, "; ")
}

// openIn says how many mics are open in new cues.
func (r *CauseReport) openIn(ids []string) string {
	open := 0
	for _, id := range ids {
		s, _ := r.new.Find(id)
		for _, c := range s.Channels {
			if c.Open {
				open++
			}
		}
	}
	if open == 0 {
		return "no mic is open in it"
	}
	return count(open, "mic") + " open in it"
}

var kindWords = map[string]string{
	diff.KindFade: "another fade", diff.KindExtra: "other extra messages", diff.KindEarly: "other early openings",
	diff.KindOrder: "another order",
}

func pick(list []heardChange, of func(h heardChange) bool) []heardChange {
	return slices.DeleteFunc(slices.Clone(list), func(h heardChange) bool { return !of(h) })
}

func playersOf(list []heardChange) []string { return (&effect{heard: list}).players() }

// opened says who opens, closes or hands over a pack.
func (r *CauseReport) opened(e *effect) string {
	var parts []string
	opens := func(h heardChange) bool { return h.Param == diff.ParamOpen && h.New == 1 }
	switches := func(h heardChange) bool { // it opens on one channel where it closes on another
		return h.Param == diff.ParamOpen && slices.ContainsFunc(e.heard, func(o heardChange) bool {
			return o.Param == diff.ParamOpen && o.cue == h.cue && o.player == h.player && o.channel != h.channel &&
				(o.New == 1) != (h.New == 1)
		})
	}
	for _, x := range []struct {
		verb string
		of   func(h heardChange) bool
	}{
		{"another channel for", switches},
		{"opens", func(h heardChange) bool { return opens(h) && !switches(h) }},
		{"closes", func(h heardChange) bool { return h.Param == diff.ParamOpen && !opens(h) && !switches(h) }},
		{"another player wears", func(h heardChange) bool { return h.Param == diff.ParamPlayer }},
	} {
		list := pick(e.heard, x.of)
		if len(list) == 0 {
			continue
		}
		who := names(playersOf(list))
		if x.verb == "another player wears" {
			who = "the pack of " + who
		}
		parts = append(parts, x.verb+" "+who+" in "+r.cueWords(r.cuesIn(list)))
	}
	return strings.Join(parts, ", ")
}

// timed says which cues come at another time.
func (r *CauseReport) timed(e *effect) string {
	n := len(e.timeCue)
	if n == 0 {
		return ""
	}
	comes := " come"
	if n == 1 {
		comes = " comes"
	}
	way := "later"
	switch {
	case e.later && e.earlier:
		way = "earlier or later"
	case e.earlier:
		way = "earlier"
	}
	most := "up to "
	if n == 1 {
		most = ""
	}
	if e.timeS < 0.05 {
		return r.cueWords(r.inOrder(e.timeCue)) + comes + " at another count, at the same time"
	}
	return fmt.Sprintf("%s%s %s%.1f s %s", r.cueWords(r.inOrder(e.timeCue)), comes, most, e.timeS, way)
}

// subject names players unless the line is about them already.
func subject(list []heardChange, who []string) string {
	players := playersOf(list)
	if slices.Equal(players, who) {
		return ""
	}
	return " " + names(players)
}

func (r *CauseReport) leveled(e *effect, who []string) string {
	list := pick(e.heard, func(h heardChange) bool { return h.Param == diff.ParamLevel })
	if len(list) == 0 {
		return ""
	}
	by, even, most := float64(list[0].New-list[0].Old), true, 0.0
	for _, h := range list {
		x := float64(h.New - h.Old)
		even = even && math.Abs(x-by) < 1e-6
		most = max(most, math.Abs(x))
	}
	in := " in " + r.cueWords(r.cuesIn(list))
	if even {
		return fmt.Sprintf("%+.1f dB%s%s", by, forWhom(subject(list, who)), in)
	}
	return fmt.Sprintf("level by at most %.1f dB%s%s", most, forWhom(subject(list, who)), in)
}

func forWhom(who string) string {
	if who == "" {
		return ""
	}
	return " for" + who
}

// moved says whose delay, pan, place or sends are otherwise, and by how much at most.
func (r *CauseReport) moved(e *effect, who []string) string {
	list := pick(e.heard, func(h heardChange) bool { return class(h.ParamDiff) == whatArrival })
	if len(list) == 0 {
		return ""
	}
	most := map[string]float64{}
	for _, h := range list {
		param := h.Param
		if param == diff.ParamPath {
			param = h.Of
		}
		by := math.Abs(float64(h.New - h.Old))
		if math.IsInf(by, 0) || math.IsNaN(by) {
			by = math.Inf(1)
		}
		most[param] = max(most[param], by)
	}
	var by []string
	add := func(param, format string) {
		switch v := most[param]; {
		case math.IsInf(v, 0):
			by = append(by, "a send on or off")
		case v > 0.0005:
			by = append(by, fmt.Sprintf(format, number(v)))
		}
	}
	add(diff.ParamDelay, "%s ms")
	add(diff.ParamPan, "%s of pan")
	add(diff.ParamSend, "%s dB of a send")
	add(diff.ParamPlace, "%s of a stack's place")
	add(diff.ParamLevel, "%s dB on the way")
	text := "moves" + subject(list, who)
	if who != nil && len(who) > 1 && slices.Equal(playersOf(list), who) {
		text = "move"
	}
	text += " in " + r.cueWords(r.cuesIn(list))
	if len(by) > 0 {
		text += ", by at most " + source.And(by)
	}
	return text
}

// ownSet says which of the mixer's own parameters differ.
func (r *CauseReport) ownSet(e *effect, who []string) string {
	list := pick(e.heard, func(h heardChange) bool {
		return !slices.Contains([]string{whatOpen, whatLevel, whatArrival}, class(h.ParamDiff))
	})
	if len(list) == 0 {
		return ""
	}
	var params []string
	for _, h := range list {
		if !slices.Contains(params, h.Param) {
			params = append(params, h.Param)
		}
	}
	first := list[0].Words
	if slices.ContainsFunc(list, func(h heardChange) bool { return h.Words != first }) {
		first = source.And(params)
	}
	return first + forWhom(subject(list, who)) + " in " + r.cueWords(r.cuesIn(list))
}
