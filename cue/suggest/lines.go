package suggest

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/timeline"
	"backfield/layout/table"
)

// TOML is the cues as they are written into a score.
func TOML(r *compile.Result, cues []FirstCue) string {
	var b strings.Builder
	var before []FirstOpening
	for i, c := range cues {
		at := "at   = " + table.Quote(placed(r, c.At))
		if c.After > 0 {
			at = fmt.Sprintf("after = %g", c.After)
		}
		fmt.Fprintf(&b, "\n[[cue]]\nid   = %s\n%s\nname = %s\n", table.Quote(fmt.Sprint(i+1)), at,
			table.Quote(named(before, c.Open)))
		for _, role := range r.Score.RoleNames() {
			if names := grouped(r, c, role); len(names) > 0 {
				fmt.Fprintf(&b, "open.%s = [%s]\n", keyOf(role), strings.Join(names, ", "))
			}
		}
		if i > 0 {
			b.WriteString("fade = 1\n")
			if c.Early > 0 {
				fmt.Fprintf(&b, "open_early = %g\n", c.Early)
			}
		}
		before = c.Open
	}
	return b.String()
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

// keyOf is a name as a key of TOML.
func keyOf(name string) string {
	if bareKey.MatchString(name) {
		return name
	}
	return table.Quote(name)
}

// placed is where a cue is, in the words of the music if they mean that moment.
func placed(r *compile.Result, at clock.Moment) string {
	count := clock.ShowCount{Movement: at.Movement, Count: at.Count()}.String()
	music := r.Clock.Movements[at.Movement-1].Music
	if music == nil || at.Elapsed < 1e-6 {
		return count
	}
	text := fmt.Sprintf("%d:%s", at.Movement, music.Place(at.Elapsed))
	read, fault := clock.ParseShowCount(text)
	if fault != nil {
		return count
	}
	if found, fault := r.Clock.Resolve(read); fault != nil || math.Abs(found.Elapsed-at.Elapsed) > 1e-6 {
		return count
	}
	return text
}

// named says what a cue does: who enters, or who is out.
func named(before, open []FirstOpening) string {
	if len(open) == 0 {
		return "out"
	}
	for _, o := range open {
		if o.Solo {
			return "solo, " + o.Player
		}
	}
	enter, leave := missing(open, before), missing(before, open)
	switch {
	case len(enter) == len(open):
		return timeline.Few(enter)
	case len(enter) > 0:
		return "with " + timeline.Few(enter)
	case len(leave) > 0:
		return timeline.Few(leave) + " out"
	}
	return "roles change"
}

// grouped are the names that a cue opens in a role, quoted: a section where all of it that wears a pack then is open in
// that role.
func grouped(r *compile.Result, c FirstCue, role string) (names []string) {
	done := map[string]bool{}
	for _, o := range c.Open {
		if o.Role != role || done[o.Section] {
			continue
		}
		worn, open := 0, 0
		for _, p := range r.Roster.Players {
			if _, wears := r.Lines.LineOf(p.Name, c.At); wears && p.Section == o.Section {
				worn++
			}
		}
		for _, other := range c.Open {
			if other.Section == o.Section && other.Role == role {
				open++
			}
		}
		if worn == open && open > 1 && o.Section != "" {
			done[o.Section] = true
			names = append(names, table.Quote("@"+o.Section))
			continue
		}
		names = append(names, table.Quote(o.Player))
	}
	return names
}
