package tonight

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/timeline"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noPlayer(name table.Text, players, sections []string) source.Problem {
	do := source.DidYouMean(name.V, players, "fix the name, or remove it")
	if section := source.Nearest(name.V, sections); section != "" && source.Nearest(name.V, players) == "" {
		do = fmt.Sprintf("all of the section: write %q", "@"+section)
	}
	return source.ErrorAt("unknown-player", name.Span, fmt.Sprintf("nobody in the show is called %q", name.V), do)
}

func noSection(name table.Text, sections []string) source.Problem {
	return source.ErrorAt("unknown-section", name.Span, fmt.Sprintf("no section is called %q", name.V),
		source.DidYouMean(strings.TrimPrefix(name.V, "@"), sections, source.OneOfOr(sections, "fix the name")))
}

func noPack(name table.Text, packs []string) source.Problem {
	return source.ErrorAt("unknown-pack", name.Span, fmt.Sprintf("no pack of the roster is called %q", name.V),
		source.DidYouMean(name.V, packs, source.OneOfOr(packs, "write the name of the player who wears it")))
}

func inCircle(at source.Span, circle []string) source.Problem {
	what := fmt.Sprintf("%s plays for themself", circle[0])
	if len(circle) > 1 {
		what = fmt.Sprintf("these play for one another in a circle: %s", source.And(circle))
	}
	return source.ErrorAt("substitute-circle", at, what, "write only who plays for somebody who is not there")
}

func substituteAbsent(s Substitute, absent source.Span, choices []string) source.Problem {
	return source.ErrorAt("substitute-absent", s.By.Span,
		fmt.Sprintf("%s is absent too, so %s needs another substitute", s.By.V, s.For.V), choose(choices),
		source.Note{Span: absent, Text: "absent"})
}

// choose says whom to write.
func choose(players []string) string {
	if len(players) == 0 {
		return "choose somebody who is there"
	}
	return "choose somebody who is there; with a pack: " + timeline.Few(players)
}

func noPackToTake(s Substitute) source.Problem {
	return source.ErrorAt("substitute-pack", s.By.Span,
		fmt.Sprintf("%s has no pack tonight that %s could take", s.For.V, s.By.V),
		"remove pack = true if the substitute has a pack, or choose somebody who has")
}

func noPackAtAll(s Substitute, theirs bool) source.Problem {
	x := source.ErrorAt("substitute-pack", s.By.Span,
		fmt.Sprintf("%s has no pack to play for %s with", s.By.V, s.For.V), "choose somebody who has a pack")
	if theirs {
		x.Do = fmt.Sprintf("write pack = true: then they take the pack of %s", s.For.V)
	}
	return x
}

func unknownDots(dots table.Text) source.Problem {
	return source.ErrorAt("bad-choice", dots.Span, fmt.Sprintf("unknown dots %q", dots.V),
		`write dots = "theirs" for a substitute who walks the other's dots, or remove it`)
}

func swapOfOne(pack table.Text) source.Problem {
	return source.ErrorAt("pack-swap", pack.Span, fmt.Sprintf("%s cannot be swapped with itself", pack.V),
		"write the two packs that hang on each other's players")
}

func swappedTwice(pack table.Text, first source.Span) source.Problem {
	return source.ErrorAt("pack-swap", pack.Span, fmt.Sprintf("%s is swapped twice", pack.V),
		"keep one pair for each pack", source.Note{Span: first, Text: "swapped here"})
}

func channelTaken(spare table.Int, by string) source.Problem {
	return source.ErrorAt("channel-twice", spare.Span, fmt.Sprintf("channel %d is the one of %s", spare.V, by),
		"write the channel of a spare pack, or remove it: then the channel of the dead pack stays closed")
}

func noChannel(spare table.Int, channels int) source.Problem {
	return source.ErrorAt("no-such-channel", spare.Span, fmt.Sprintf("the mixer has no channel %d", spare.V),
		fmt.Sprintf("it has %d", channels))
}

func badCut(text table.Text) source.Problem {
	return source.ErrorAt("bad-cut", text.Span, fmt.Sprintf("%q is not a part of the show", text.V),
		`write "movement 2", "set 14 .. set 17", "2:9 .. 2:41" or "set 30 .. end"`)
}

func cutBackward(text table.Text) source.Problem {
	return source.ErrorAt("bad-cut", text.Span, fmt.Sprintf("%q does not end after it begins", text.V),
		"write the earlier count first; the cut ends just before the second")
}

func noMovement(at table.Text, number, movements int) source.Problem {
	return source.ErrorAt("unknown-movement", at.Span, fmt.Sprintf("the show has no movement %d", number),
		fmt.Sprintf("it has %d", movements))
}

func standingBetween(at table.Text, set string) source.Problem {
	return source.ErrorAt("bad-standing", at.Span, "nobody stands between two sets",
		fmt.Sprintf("write %q alone, or the name of a sheet of places", "set "+set))
}

func lacksPlaces(at table.Text, sheet *source.File, players []string) source.Problem {
	return source.ErrorAt("no-place", at.Span, fmt.Sprintf("%s has no place for %s with a mic: %s", sheet.Name,
		source.Count(float64(len(players)), "player"), timeline.Few(players)),
		"add a row for each: player, lateral and depth")
}

func othersStand(at table.Text, sheet *source.File, players []string) source.Problem {
	return source.WarningAt("no-place", at.Span, fmt.Sprintf("%s has no place for %s without a mic: %s", sheet.Name,
		source.Count(float64(len(players)), "player"), timeline.Few(players)),
		"add a row for each; until then they stand where they begin")
}

// nobodyLeads is about all cues that have lost their loudest voice.
func nobodyLeads(at source.Span, lost []lostLead, choices []leadChoice) source.Problem {
	var who []string // the cues of the same players together
	for i, x := range lost {
		same := func(o lostLead) bool { return o.role == x.role && slices.Equal(o.players, x.players) }
		if slices.IndexFunc(lost, same) < i {
			continue
		}
		var cues []string
		for _, o := range lost {
			if same(o) {
				cues = append(cues, o.cue)
			}
		}
		word := "cue "
		if len(cues) > 1 {
			word = "cues "
		}
		who = append(who, fmt.Sprintf("%s%s (%s: %s)", word, source.And(cues), x.role, timeline.Few(x.players)))
	}
	return source.WarningAt("no-lead", at, "nobody plays the lead in "+strings.Join(who, "; "), leadChoices(choices))
}

// leadChoices says who could play for whom.
func leadChoices(choices []leadChoice) string {
	var list, without []string
	for _, c := range choices {
		switch {
		case len(c.others) > 0 && len(list) < 3:
			list = append(list, fmt.Sprintf("%q = %q (%s with a pack: %s)", c.player, c.others[0], c.section,
				timeline.Few(c.others)))
		case len(c.others) == 0:
			without = append(without, c.player)
		}
	}
	do := "cut these cues"
	if len(without) > 0 {
		do = fmt.Sprintf("for %s nobody else of the section has a pack: let a substitute take theirs with pack = "+
			"true, or %s", timeline.Few(without), do)
	}
	if len(list) > 0 {
		do = "under [substitute] write " + strings.Join(list, ", ") + "; or " + do
	}
	return do
}
