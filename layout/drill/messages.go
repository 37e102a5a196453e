package drill

import (
	"fmt"
	"strings"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func firstSetCounts(at source.Span, counts int) source.Problem {
	return source.WarningAt("bad-counts", at,
		fmt.Sprintf("the show's first set takes %s to move into, but no set comes before it",
			source.Count(float64(counts), "count")),
		"give it 0 counts: everyone starts in it")
}

func emptySet(at source.Span, label string) source.Problem {
	return source.ErrorAt("missing-dot", at,
		fmt.Sprintf("nobody has a dot in set %s", label),
		"add the rows, or fix the set's number in one of the sheets")
}

func gapInDots(player *Marcher, gaps []string) source.Problem {
	return source.ErrorAt("missing-dot", player.Span,
		fmt.Sprintf("%s has no dot in %s, but has them before and after", player.Name, sets(gaps)),
		"add the rows, also where the player stands still")
}

func noDotAtEnds(player *Marcher, ends []string) source.Problem {
	return source.WarningAt("missing-dot", player.Span,
		fmt.Sprintf("%s has no dot in %s", player.Name, sets(ends)),
		"add the rows if the player is on the field then")
}

func farOffField(at source.Span, what string) source.Problem {
	return source.ErrorAt("off-field", at,
		what,
		"check the yard line, the side, and front or behind")
}

func offField(at source.Span, what string) source.Problem {
	return source.WarningAt("off-field", at,
		what,
		"check the dot")
}

func walkInHold(player *Marcher, i int, way string) source.Problem {
	return source.ErrorAt("step-size", player.Where(i),
		fmt.Sprintf("%s, but all its counts are a hold", way),
		"shorten the set's hold, or fix the dot",
		source.Note{Span: player.Where(i - 1), Text: "the dot before"})
}

func impossibleStep(player *Marcher, i, walk int, size string) source.Problem {
	return source.ErrorAt("step-size", player.Where(i),
		size,
		mirrorHint(player.Dots[i-1].At, player.Dots[i].At, walk),
		source.Note{Span: player.Where(i - 1), Text: "the dot before"})
}

func longStep(player *Marcher, i int, size string) source.Problem {
	return source.WarningAt("step-size", player.Where(i),
		size,
		"longer than 6 to 5; check the dot or the counts",
		source.Note{Span: player.Where(i - 1), Text: "the dot before"})
}

func tooClose(at source.Span, name, other string, otherAt source.Span, set string, distM float64) source.Problem {
	return source.WarningAt("too-close", at,
		fmt.Sprintf("%s and %s are %.2f steps apart in set %s", other, name, distM/unit.StepM, set),
		"check both dots",
		source.Note{Span: otherAt, Text: other + " is here"})
}

func manyMore(first source.Problem, n int) source.Problem {
	first.Notes = nil
	if n > 1 {
		first.What += fmt.Sprintf("; and %s more %ss of this kind", thousands(n-1), first.Severity)
		first.Do += "; if the dots are right, check the columns, the unit and the grid"
	}
	return first
}

func badDot(at source.Span, what, do string) source.Problem {
	return source.ErrorAt("bad-dot", at,
		what,
		do)
}

func knownWord(at source.Span, who string, word field.Word, means string) source.Problem {
	return source.ErrorAt("bad-dot", at,
		fmt.Sprintf("%s %q is %q, but in a dot it means %q", who, word.From, word.To, means),
		fmt.Sprintf("if the dots mean %q, remove this; if they mean %q, write that in them", means, word.To))
}

func badDepthFrom(t table.Text) source.Problem {
	return source.ErrorAt("drill-columns", t.Span,
		fmt.Sprintf("%q is no line that a depth can count from", t.V),
		`write depth_from = "front sideline", "front hash" or "in front of back sideline"`)
}

func badXFrom(t table.Text, alone bool) source.Problem {
	if !alone {
		return source.ErrorAt("drill-columns", t.Span,
			"x_from goes with x and a column of depths",
			"write depth instead of y, and depth_from for the line that it counts from; or remove this")
	}
	return source.ErrorAt("drill-columns", t.Span,
		fmt.Sprintf("%q is no yard line that x can count from", t.V),
		`write x_from = "side 1 goal line", or "50", where x is 0; x grows toward side 2`)
}

func badCoordinate(at source.Span, err error, do string) source.Problem {
	return source.ErrorAt("bad-dot", at,
		"this coordinate "+err.Error(),
		do)
}

func noPlaceInSheet(dots *source.File) source.Problem {
	return source.ErrorAt("missing-column", dots.Whole(),
		"the sheet has no columns for the dots",
		"name the columns lateral and depth, or x and y")
}

func noSetNamed(at source.Span) source.Problem {
	return source.ErrorAt("missing-cell", at,
		"this row has no set",
		"write the set's number in the column \"set\"")
}

func noDotInRow(at source.Span) source.Problem {
	line, _ := at.Position()
	return source.ErrorAt("bad-dot", at,
		"this row has no dot",
		fmt.Sprintf("write it; leave the row out if the player is not on the field then; if it and all below are "+
			"notes: last = %d in [drill.columns]", line-1))
}

func setTwice(label table.Cell, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-set", label.Span,
		fmt.Sprintf("set %s is listed twice", label.Text),
		"renumber one",
		source.Note{Span: first, Text: "first here"})
}

func holdTooLong(at source.Span, hold, counts int) source.Problem {
	return source.ErrorAt("bad-hold", at,
		fmt.Sprintf("a hold of %s is longer than the set's %d", source.Count(float64(hold), "count"), counts),
		"counts include the hold at the end")
}

func movementOrder(at source.Span, set string, movement, before int) source.Problem {
	return source.ErrorAt("set-order", at,
		fmt.Sprintf("set %s of movement %d comes after a set of movement %d", set, movement, before),
		"put the rows in the order they are played")
}

func noCounts(at source.Span, set string) source.Problem {
	return source.ErrorAt("bad-counts", at,
		fmt.Sprintf("set %s has 0 counts", set),
		"only a movement's first set may have 0; write its counts, hold included")
}

func growingCounts(sets []Set, guessed bool) source.Problem {
	var first []string
	for _, s := range sets[:fewGrowing] {
		first = append(first, fmt.Sprint(s.Counts))
	}
	x := source.WarningAt("bad-counts", sets[1].CountsAt,
		fmt.Sprintf("the counts grow from set to set (%s ...), as the counts since the start of a movement do",
			strings.Join(first, ", ")),
		`say what they are: counts_are = "total" in [drill.columns], or counts_are = "each" if they are the counts `+
			"into each set")
	if guessed {
		x.Severity = source.Error
	}
	return x
}

func totalFalls(at source.Span, set string, total, before int) source.Problem {
	return source.ErrorAt("bad-counts", at,
		fmt.Sprintf("the counts of set %s are %d after %d, but they are a total, which grows", set, total, before),
		`fix them; if they are the counts into each set: counts_are = "each" in [drill.columns]`)
}

func emptyCell(at source.Span, column string) source.Problem {
	return source.ErrorAt("missing-cell", at,
		fmt.Sprintf("this row's %s is empty", column),
		"fill it in")
}

func otherLabel(at []source.Span, label string, listed Set) source.Problem {
	return source.ErrorAt("unknown-set", at[0],
		fmt.Sprintf("no set %q in the list of sets, and %s in it; set %q of the list has none", label,
			source.Count(float64(len(at)), "dot"), listed.Label),
		"if they are the same set, fix the label in one of the sheets",
		source.Note{Span: listed.Span, Text: "the set without dots"})
}

func unknownSet(at []source.Span, label string, labels []string) source.Problem {
	more := ""
	if len(at) > 1 {
		more = fmt.Sprintf(" (%d rows name it)", len(at))
	}
	return source.ErrorAt("unknown-set", at[0],
		fmt.Sprintf("no set %q in the list of sets%s", label, more),
		source.DidYouMean(label, labels, "add it to the sheet of sets, or fix its number"))
}

func noSetOrPlayer(at source.Span) source.Problem {
	return source.ErrorAt("missing-cell", at,
		"this row has no set or no player",
		"fill in both")
}

func tooManyDots(at source.Span) source.Problem {
	return source.ErrorAt("too-large", at,
		fmt.Sprintf("more than %d dots", mostDots),
		"split the show")
}

func dotTwice(name table.Cell, set string, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-dot", name.Span,
		fmt.Sprintf("%s has two dots in set %s", name.Text, set),
		"keep one",
		source.Note{Span: first, Text: "the other is here"})
}

func listedDifferently(at source.Span, key string, v int, set Set, want int) source.Problem {
	return source.ErrorAt("listed-twice", at,
		fmt.Sprintf("%s of set %s is %d here and %d in the list of sets", key, set.Label, v, want),
		"fix one of them",
		source.Note{Span: set.Span, Text: "the list of sets"})
}

func placeTwice(name table.Cell, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-dot", name.Span, fmt.Sprintf("%s has two places", name.Text),
		"remove one of the rows", source.Note{Span: first, Text: "the first one"})
}

func placeOfNobody(name table.Cell, names []string) source.Problem {
	return source.ErrorAt("unknown-player", name.Span, fmt.Sprintf("no player %q in the drill", name.Text),
		source.DidYouMean(name.Text, names, "fix the name, or remove the row"))
}
