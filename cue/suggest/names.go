package suggest

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/compile"
	"backfield/cue/parts"
)

const (
	glanceLength = 38 // a name that is longer is not read at a glance
	nameLength   = 60 // one that is longer still only counts the players
)

// named says what a cue does, as it would be written by hand: who enters and who leaves, or who is open.
func named(r *compile.Result, before []FirstOpening, c FirstCue) string {
	enter, leave := missing(c.Open, before), missing(before, c.Open)
	open, all := missing(c.Open, nil), playersAt(r, c)
	soli := soloists(c.Open)
	if slices.Equal(soli, soloists(before)) {
		soli = nil // they go on
	}
	switch {
	case len(open) == 0 && len(leave) == 0:
		return "all closed"
	case len(open) == 0:
		return "all out"
	case len(soli) == 1:
		return soli[0] + " solo"
	case len(soli) > 1:
		return short(r, c, soli) + " soli"
	case len(enter) == 0 && len(leave) == 0:
		return turned(r, c)
	case len(open) == 1 && len(enter) == 1:
		return open[0] + " solo"
	case len(enter) > 0 && len(open) == len(all) && sections(all, func(FirstOpening) bool { return true }) > 1:
		return "all in"
	case len(enter) == len(open) && len(leave) == 0:
		return fit(short(r, c, open), len(open), "open")
	case len(enter) == len(open):
		return fit(short(r, c, open)+" only", len(open), "open")
	case len(open) == 1:
		return fit(short(r, c, leave)+" out, "+open[0]+" alone", len(leave), "out")
	}
	var parts []string
	if len(enter) > 0 {
		parts = append(parts, short(r, c, enter)+" in")
	}
	if len(leave) > 0 {
		parts = append(parts, short(r, c, leave)+" out")
	}
	separator := ", "
	if strings.Contains(strings.Join(parts, ""), ",") {
		separator = "; "
	}
	name := strings.Join(parts, separator)
	if len(name) <= glanceLength {
		return name
	}
	if out := missing(all, c.Open); len(out) > 0 && len(out) < len(open) {
		if text := "all but " + short(r, c, out); len(text) < len(name) {
			name = text
		}
	}
	if text := short(r, c, open) + " only"; len(leave) > 0 && len(text) < len(name) {
		name = text
	}
	if len(name) <= nameLength {
		return name
	}
	return fmt.Sprintf("%d in, %d out", len(enter), len(leave))
}

// soloists are those in front whom the music calls solo or soli.
func soloists(open []FirstOpening) (names []string) {
	for _, o := range open {
		if o.Solo && o.Front {
			names = append(names, o.Player)
		}
	}
	return names
}

// fit is a name, or how many players it is about if it is too long.
func fit(name string, players int, what string) string {
	if len(name) <= nameLength {
		return name
	}
	return fmt.Sprintf("%d %s", players, what)
}

// turned names a cue that opens and closes nothing: who is in front from there.
func turned(r *compile.Result, c FirstCue) string {
	var front []string
	for _, o := range c.Open {
		if o.Front {
			front = append(front, o.Player)
		}
	}
	if len(front) == 0 {
		return "together"
	}
	return fit(short(r, c, front)+" in front", len(front), "in front")
}

// playersAt are those who wear a pack at a cue and have something to play in its movement.
func playersAt(r *compile.Result, c FirstCue) (list []FirstOpening) {
	for _, p := range r.Roster.Players {
		_, wears := r.Lines.LineOf(p.Name, c.At)
		if lane := r.Setup.Lanes.Of(p.Name, c.At.Movement); wears && lane != nil && len(lane.Runs) > 0 {
			list = append(list, FirstOpening{Player: p.Name, Section: p.Section})
		}
	}
	return list
}

// short names players: the low brass, or a section, where all of it is among them.
func short(r *compile.Result, c FirstCue, players []string) string {
	all := playersAt(r, c)
	has := func(player string) bool { return slices.Contains(players, player) }
	// whole reports whether all that belongs together is among the players, and more than one.
	whole := func(is func(FirstOpening) bool) bool {
		n := 0
		for _, o := range all {
			if is(o) && !has(o.Player) {
				return false
			}
			if is(o) {
				n++
			}
		}
		return n > 1
	}
	section := map[string]string{}
	for _, p := range r.Roster.Players {
		section[p.Name] = p.Section
	}
	low := whole(isLow) && sections(all, isLow) > 1
	var names []string
	for _, player := range players {
		name := player
		of := FirstOpening{Section: section[player]}
		switch {
		case low && isLow(of):
			name = "low brass"
		case of.Section != "" && whole(func(o FirstOpening) bool { return o.Section == of.Section }):
			name = strings.TrimSuffix(of.Section, "s") + "s"
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return strings.Join(names, ", ")
}

// isLow reports whether a player is of the low brass.
func isLow(o FirstOpening) bool {
	return slices.Contains([]string{"trombone", "baritone", "tuba"}, parts.Instrument(o.Section))
}

// sections counts the sections of some players.
func sections(list []FirstOpening, is func(FirstOpening) bool) int {
	var names []string
	for _, o := range list {
		if is(o) && !slices.Contains(names, o.Section) {
			names = append(names, o.Section)
		}
	}
	return len(names)
}
