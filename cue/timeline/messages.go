package timeline

import (
	"fmt"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do. Warnings that
// a cue may accept are not among them: those are said where they are found, by their rule.

// playerNotInRoster is about a player of the drill; near is who of the roster may be meant, "" for nobody.
func playerNotInRoster(d *drill.Marcher, r *roster.Roster, near string) source.Problem {
	x := source.ErrorAt("unknown-player", d.Span, fmt.Sprintf("no player %q in the roster", d.Name),
		"add the player to the roster, or fix the name")
	if other, ok := r.Player(near); ok {
		x.Do = fmt.Sprintf("did you mean %q?", near)
		x.Notes = []source.Note{{Span: other.Span, Text: "in the roster"}}
	}
	return x
}

func noDots(w *roster.Wear) source.Problem {
	return source.ErrorAt("no-dots", w.Span, fmt.Sprintf("%s wears a mic but has no dots in the drill", w.Player),
		"add the player's dots: no delay can be computed without them")
}

func unknownMovement(s drill.Set, movements int) source.Problem {
	return source.ErrorAt("unknown-movement", s.Span,
		fmt.Sprintf("set %s is in movement %d, but the score has %d", s.Label, s.Movement, movements),
		"add a [[movement]] to the score, or fix the number")
}

func otherSum(number int, counts table.Int, sets float64, last source.Span) source.Problem {
	var notes []source.Note
	if last.File != nil {
		text := fmt.Sprintf("movement %d's last set ends at count %g", number, sets)
		notes = append(notes, source.Note{Span: last, Text: text})
	}
	return source.ErrorAt("counts-sum", counts.Span,
		fmt.Sprintf("movement %d has %d counts, but its sets add up to %g", number, counts.V, sets),
		"fix the counts of a set, or of the movement", notes...)
}

func noCounts(number int, at source.Span) source.Problem {
	return source.ErrorAt("counts-sum", at, fmt.Sprintf("movement %d has neither sets nor counts", number),
		"write counts = N, or add its sets to the drill")
}

func tempoPastEnd(number int, at source.Span, count, counts float64) source.Problem {
	return source.WarningAt("tempo-past-end", at,
		fmt.Sprintf("movement %d changes tempo at count %g but has only %g counts", number, count, counts),
		"fix the count")
}

// fixMusic is what to do where a movement and its music are not as long.
const fixMusic = "fix the one that is wrong; to = \"m. N\" ends the movement before its file does"

func setsAndMusic(number int, sets float64, m *clock.Music, last source.Span) source.Problem {
	return source.ErrorAt("music-length", last,
		fmt.Sprintf("movement %d's sets add up to %g counts, but its music has %s", number, sets, lengthOf(m)),
		fixMusic, endOf(m)...)
}

func countsAndMusic(number int, counts table.Int, m *clock.Music) source.Problem {
	return source.ErrorAt("music-length", counts.Span,
		fmt.Sprintf("movement %d has %d counts, but its music has %s", number, counts.V, lengthOf(m)),
		fixMusic, endOf(m)...)
}

// lengthOf is how long music is, in words.
func lengthOf(m *clock.Music) string {
	if m.Most > m.Least {
		return fmt.Sprintf("%g to %g counts", m.Least, m.Most)
	}
	return source.Count(m.Least, "count")
}

// endOf are notes of where music ends.
func endOf(m *clock.Music) []source.Note {
	text := fmt.Sprintf("%s: a count is %s; the movement ends after %s", m.Name, m.Beat, m.Place(m.Least-1))
	notes := []source.Note{{Span: m.NamedAt, Text: text}}
	if m.EndAt.File != nil {
		notes = append(notes, source.Note{Span: m.EndAt, Text: "it ends here"})
	}
	return notes
}

func pickupInWait(number int, m *clock.Music, waitS float64) source.Problem {
	const text = "the pickup of movement %d starts %.2f s before its downbeat, but the movements are only %g s apart"
	return source.WarningAt("music-pickup", m.NamedAt, fmt.Sprintf(text, number, m.PickupS, waitS),
		fmt.Sprintf("write wait = %.2f, or more", m.PickupS+0.005))
}

func outOfOrder(q, before *score.Cue) source.Problem {
	return source.WarningAt("cue-order", q.At.Span,
		fmt.Sprintf("cue %q comes before cue %q in the show but after it in the file", q.ID.V, before.ID.V),
		"put the cues in the order they are played")
}

func sameMoment(a, b *score.Cue) source.Problem {
	return source.ErrorAt("same-moment", b.At.Span,
		fmt.Sprintf("cues %q and %q are at the same moment", a.ID.V, b.ID.V), "move one, or combine them",
		source.Note{Span: a.At.Span, Text: "the other is here"})
}

func noSuchChannel(channel, channels int, at source.Span) source.Problem {
	return source.ErrorAt("no-such-channel", at, fmt.Sprintf("channel %d, but the mixer has %d", channel, channels),
		"fix the channel, or \"channels\" in the mixer file")
}

func wornByTwo(w, other roster.Wear) source.Problem {
	return source.ErrorAt("channel-twice", w.ChanAt,
		fmt.Sprintf("channel %d is worn by %s and by %s at once", w.Channel, other.Player, w.Player),
		`give one of them another channel, or say in "from" when it changes hands`,
		source.Note{Span: other.ChanAt, Text: other.Player + " here"})
}

func micLikePlayer(m *rig.Mic) source.Problem {
	return source.ErrorAt("duplicate-name", m.Span, fmt.Sprintf("fixed mic %q has a player's name", m.Name),
		"give it another")
}

func micOnTaken(m *rig.Mic) source.Problem {
	return source.ErrorAt("channel-twice", m.Span,
		fmt.Sprintf("channel %d of fixed mic %q is taken", m.Channel, m.Name), "give it another channel")
}

func twoPacks(w, other *LineWear) source.Problem {
	return source.ErrorAt("two-packs", w.Span,
		fmt.Sprintf("%s wears two packs at once, on channels %d and %d", w.Player, other.Channel, w.Channel),
		`keep one, or say in "from" when the player changes packs`, source.Note{Span: other.Span, Text: "the other"})
}

func wearsNoMic(name table.Text, cueID, why, do string) source.Problem {
	when := ""
	if cueID != "" {
		when = fmt.Sprintf(" in cue %q", cueID)
	}
	if why != "" {
		when += ": " + why
	}
	return source.ErrorAt("no-mic", name.Span, fmt.Sprintf("%s wears no mic%s", name.V, when), do)
}

func withoutAt(name table.Text, section string) source.Problem {
	return source.ErrorAt("unknown-player", name.Span, fmt.Sprintf("no player and no fixed mic %q", name.V),
		fmt.Sprintf("did you mean %q?", "@"+section))
}

func unknownName(name table.Text, known []string) source.Problem {
	return source.ErrorAt("unknown-player", name.Span, fmt.Sprintf("no player and no fixed mic %q", name.V),
		source.DidYouMean(name.V, known,
			"add it to the roster or the rig, or fix the name; a section begins with @"))
}

// nobodyHasMic is about an @group.
func nobodyHasMic(name table.Text) source.Problem {
	return source.ErrorAt("no-mic", name.Span, fmt.Sprintf("nobody in section %q wears a mic then", name.V[1:]),
		"give one of them a pack in the roster, or leave the section out")
}

// unknownSection is about an @group.
func unknownSection(name table.Text, groups []string) source.Problem {
	return source.ErrorAt("unknown-section", name.Span, fmt.Sprintf("no section %q in the roster", name.V[1:]),
		source.DidYouMean(name.V[1:], groups, "it is "+source.OneOf(groups)))
}

func alwaysWorn(name table.Text, player string) source.Problem {
	return source.ErrorAt("always-worn", name.Span, fmt.Sprintf("%s wears a mic", player),
		"only fixed mics may stay open all show; open worn mics in cues")
}

func alwaysTwice(name table.Text, mic string, before Opening) source.Problem {
	return source.ErrorAt("opened-twice", name.Span, fmt.Sprintf("%s is listed twice under [always]", mic), "keep one",
		source.Note{Span: before.At, Text: "first here"})
}

func openedTwice(name table.Text, who string, q *score.Cue, before Opening) source.Problem {
	return source.ErrorAt("opened-twice", name.Span, fmt.Sprintf("%s is opened twice in cue %q", who, q.ID.V),
		"keep one", source.Note{Span: before.At, Text: "first here"})
}

func unknownRole(name table.Text, roles []string) source.Problem {
	return source.ErrorAt("unknown-role", name.Span, fmt.Sprintf("no role %q in [mix]", name.V),
		source.DidYouMean(name.V, roles, source.OneOfOr(roles, "add it to [mix]")))
}

func keepsHandedOver(q *score.Cue, player string) source.Problem {
	return source.ErrorAt("no-mic", q.ID.Span,
		fmt.Sprintf("cue %q keeps %s open, but the mic has been handed over by then", q.ID.V, player),
		"write the cue without keep, or close the player in a cue before the handover")
}

func fixedNeverOpen(m *rig.Mic) source.Problem {
	return source.WarningAt("never-open", m.Span,
		fmt.Sprintf("no cue opens fixed mic %q (channel %d)", m.Name, m.Channel),
		"open it in a cue or under [always], or remove it")
}

func wornNeverOpen(w *LineWear) source.Problem {
	return source.WarningAt("never-open", w.Span,
		fmt.Sprintf("%s wears pack %s (channel %d), but no cue opens it", w.Player, w.Pack, w.Channel),
		"open it in a cue, or give the pack to someone else")
}

func computedParam(name table.Text) source.Problem {
	return source.ErrorAt("unknown-param", name.Span,
		fmt.Sprintf("%s is computed, not one of the mixer's own parameters", name.V),
		"set a level with the role or a nudge; "+
			"mute, pan, delay and sends come from who is open and where they are")
}

func noParams(name table.Text, others []string) source.Problem {
	return source.ErrorAt("unknown-param", name.Span,
		fmt.Sprintf("no parameter %q: mixer.toml has no [param] tables", name.V),
		source.DidYouMean(name.V, others, fmt.Sprintf("add [param.%s] to mixer.toml, or remove this", name.V)))
}

func unknownParam(name table.Text, names []string) source.Problem {
	return source.ErrorAt("unknown-param", name.Span, fmt.Sprintf("no parameter %q", name.V),
		source.DidYouMean(name.V, names, "it is "+source.OneOf(names)+"; or add it to mixer.toml"))
}

func isSwitch(name string, v table.Setting) source.Problem {
	return source.ErrorAt("param-type", v.Span, fmt.Sprintf("%s is a switch, but %g is a number", name, v.V),
		"write true or false (in the roster: on or off)")
}

func isNumber(name string, v table.Setting) source.Problem {
	return source.ErrorAt("param-type", v.Span, fmt.Sprintf("%s is a number", name), "write a bare number")
}

func unknownPart(name table.Text, players []string) source.Problem {
	return source.ErrorAt("unknown-player", name.Span, fmt.Sprintf("no player %q in the roster", name.V),
		source.DidYouMean(name.V, players, "write a player, or a section with an @; a fixed mic does not play"))
}

func playsAndRests(c *score.Cue, name table.Text, plays source.Span) source.Problem {
	return source.ErrorAt("plays-and-rests", name.Span,
		fmt.Sprintf("in cue %q, %s is among those who play and those who rest", c.ID.V, name.V), "keep one",
		source.Note{Span: plays, Text: "plays here"})
}
