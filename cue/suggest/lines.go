package suggest

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/compile"
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
			table.Quote(named(r, before, c)))
		for _, role := range r.Score.RoleNames() {
			if names := grouped(r, c, role); len(names) > 0 {
				fmt.Fprintf(&b, "open.%s = [%s]", keyOf(role), strings.Join(names, ", "))
				if slices.ContainsFunc(c.Open, func(o FirstOpening) bool { return o.Front && o.Role == role }) {
					fmt.Fprintf(&b, "   # %s", c.Why)
				}
				b.WriteString("\n")
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
	m := r.Clock.Movements[at.Movement-1]
	if m.Music == nil || at.Elapsed < 1e-6 {
		return count
	}
	words := m.Music.Place(at.Elapsed)
	if at.Elapsed > m.Counts-1e-6 { // the end is a place after its last measure
		last := m.Music.Measures[0]
		for _, x := range m.Music.Measures {
			if x.From < m.Counts-1e-6 {
				last = x
			}
		}
		words = fmt.Sprintf("m. %s + %s", last.Number, strconv.FormatFloat(m.Counts-last.From, 'f', -1, 64))
		count = clock.ShowCount{Movement: at.Movement, Count: at.Count() - cutCounts}.String()
	}
	text := fmt.Sprintf("%d:%s", at.Movement, words)
	read, fault := clock.ParseShowCount(text)
	if fault != nil {
		return count
	}
	if found, fault := r.Clock.Resolve(read); fault != nil || math.Abs(found.Elapsed-at.Elapsed) > 1e-6 {
		return count
	}
	return text
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
