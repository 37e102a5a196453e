package rows

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func unknownFill(t table.Text) source.Problem {
	return source.ErrorAt("drill-columns", t.Span,
		fmt.Sprintf("fill cannot be %q", t.V),
		`write fill = "down": a blank set or player is that of the row above`)
}

func unknownCounts(t table.Text) source.Problem {
	return source.ErrorAt("drill-columns", t.Span,
		fmt.Sprintf("counts_are cannot be %q", t.V),
		`write counts_are = "each": those into each set; or "total": those since the movement's first set`)
}

func noName(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"this list is empty",
		`name the columns that have a player's name: player = ["Symbol", "Label"]`)
}

func badBlock(t table.Text) source.Problem {
	return source.ErrorAt("drill-columns", t.Span,
		"a block's title needs its words, and {player} or {set} once",
		`write it as the sheet has it: block = "Performer: {player}"`)
}

func noBlock(t table.Text, f *source.File) source.Problem {
	return source.ErrorAt("drill-columns", t.Span,
		fmt.Sprintf("no row of %s is a title like %q", f.Name, t.V),
		"write the title of a block as the sheet has it, with {player} or {set} for what changes")
}

func emptyBlock(title table.Cell) source.Problem {
	return source.WarningAt("missing-dot", title.Span,
		fmt.Sprintf("no rows are below the title of %s", title.Text),
		"add the dots, or remove the title")
}

func playerTwice(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"the players are named by the sheets or blocks, and also by a column",
		"keep what the sheet has: {player}, or the key player")
}

func apartTwice(at source.Span, slot string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("both the sheets and the blocks have %s", slot),
		"keep one of them")
}

func likeColumn(c table.Cell, key string) source.Problem {
	return source.WarningAt("unread-column", c.Span,
		fmt.Sprintf("the column %q is not read", fold(c.Text)),
		fmt.Sprintf("if it is the %s, write in [drill.columns]: %s = %s", key, key, table.Quote(fold(c.Text))))
}

func sameOfDot(at source.Span, a, b string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("%s and %s give the same part of a dot", a, b),
		"keep the one that the sheet fills in")
}

func noYardColumn(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"there is no column for the yard line",
		`name it: yard = "..."`)
}

func noLineColumn(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"there is no column for the hash or sideline",
		`name it: line = "..."`)
}

func halfADot(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"these columns give only one half of a dot",
		"name the columns of both halves: side to side (lateral; or side, steps, inside, yard) and front to "+
			"back (depth; or depth_steps, behind, "+
			"line)")
}

func xWithoutY(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"x and y go together",
		`name both columns; or, with x, one of depths: depth = "..."`)
}

func setSlotTwice(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"{set} is there twice",
		"keep one")
}

func notPerSet(at source.Span, column string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("the other columns are for one set each, but %s is not", column),
		"write {set} where its name has the set's label")
}

func setSlotMisplaced(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"{set} does not belong here",
		"write it in the names of the dot columns, or in the sheet's name")
}

func rowsAndColumns(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"there is a column of sets, and also {set} in the dot columns",
		"keep what the sheet has: a row for each player and set, or a column for each set")
}

func sheetsAndRows(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"there is {set} in the sheet's name, and also sets within the sheet",
		"keep one: a sheet for each set, a column for each set, or a column of sets")
}

func unknownUnit(unit table.Text) source.Problem {
	return source.ErrorAt("drill-columns", unit.Span,
		fmt.Sprintf("%q is not a unit of length", unit.V),
		`write "steps", "m", "yd", "ft" or "in"`)
}

func tooManyRows(at source.Span) source.Problem {
	return source.ErrorAt("too-large", at,
		fmt.Sprintf("more than %d dots", most),
		"split the show, or check that this is a drill")
}

func noDotAtAll(name table.Cell, last int) source.Problem {
	return source.WarningAt("missing-dot", name.Span,
		fmt.Sprintf("%s has no dot in any set", name.Text),
		"add them; if this is a note, move it out of the player column, or write "+lastLine(last))
}

func emptySheet(f *source.File) source.Problem {
	return source.ErrorAt("empty-file", f.Whole(),
		"this sheet is empty",
		"put the drill in it, or name another file")
}

func textHasNoSheets(at source.Span, name string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("%s is a text file and has no sheets", name),
		"remove this key, or name the workbook")
}

func whichSheet(at source.Span, file string, names []string) source.Problem {
	return source.ErrorAt("which-sheet", at,
		fmt.Sprintf("%s has %d sheets that are not empty (%s)", file, len(names), source.OneOf(names)),
		`name the one with the drill: sheet = "`+names[0]+
			`"; if each set has its own sheet, write {set} for the label`)
}

func unknownSheet(name table.Text, file string, names []string) source.Problem {
	return source.ErrorAt("drill-columns", name.Span,
		fmt.Sprintf("no sheet %q in %s", name.V, file),
		source.DidYouMean(name.V, names, "it has "+source.OneOf(names)))
}

func noPlaceColumns(at source.Span) source.Problem {
	return source.ErrorAt("missing-column", at,
		"the sheet has no columns for the dots",
		"name them in [drill.columns]: dot, or lateral and depth, or x and y; or yard and line with steps, side, "+
			"inside, depth_steps and behind")
}

func emptyHeader(at source.Span, line string, header int) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("%s %d is empty", line, header),
		fmt.Sprintf("write the number of the %s with the column names", line))
}

func noSuchColumn(name table.Text, s *grid, header []table.Cell, have []string) source.Problem {
	return source.ErrorAt("missing-column", name.Span,
		fmt.Sprintf("row %d of %s has no column %q", rowNumber(header), place(s), name.V),
		source.DidYouMean(name.V, have, "it has "+source.OneOf(have)),
		source.Note{Span: header[0].Span,
			Text: "taken as the row with the column names; header = N picks another"})
}

func unnamedColumn(at source.Span, name, key string) source.Problem {
	elsewhere := ""
	if key == "counts" {
		elsewhere = "; or give the sets a sheet of their own (drill.sets; import --sets FILE)"
	}
	return source.ErrorAt("missing-column", at,
		fmt.Sprintf("the column %q is missing", name),
		fmt.Sprintf("name it in [drill.columns]: %s = \"...\"", key)+elsewhere)
}

func columnTwice(first, second table.Cell) source.Problem {
	return source.ErrorAt("duplicate-column", second.Span,
		fmt.Sprintf("there are two columns %q", first.Text),
		"give each its own name",
		source.Note{Span: first.Span, Text: "first here"})
}

func setColumnTwice(at source.Span, key, set string, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-column", at,
		fmt.Sprintf("two columns %q for set %s", key, set),
		"keep one, or fix the set's label",
		source.Note{Span: first, Text: "first here"})
}

func noSetColumns(at source.Span, pattern string, header []table.Cell) source.Problem {
	return source.ErrorAt("missing-column", at,
		fmt.Sprintf("row %d has no column like %q", rowNumber(header), pattern),
		"check the column names there; header = N picks another row",
		source.Note{Span: header[0].Span, Text: "taken as the row with the column names"})
}

func setLacksColumn(label table.Cell, pattern string) source.Problem {
	return source.ErrorAt("missing-column", label.Span,
		fmt.Sprintf("set %s has no column %q", label.Text, strings.Replace(pattern, setSlot, label.Text, 1)),
		"add it, or fix its name")
}

// lastLine is the line that leaves out the rows below one; last is 0 where that is not known.
func lastLine(last int) string {
	if last == 0 {
		return "last = N in [drill.columns]"
	}
	return fmt.Sprintf("last = %d in [drill.columns]", last)
}

func noteBelow(first table.Cell, last int) source.Problem {
	return source.ErrorAt("missing-cell", first.Span,
		fmt.Sprintf("%q is below the last dot, and no set of that name is in the list of sets", first.Text),
		"if it is a note, write "+lastLine(last)+"; if it is a dot, fix its set and its words")
}

func aloneInRow(alone table.Cell, last int) source.Problem {
	return source.ErrorAt("missing-cell", alone.Span,
		fmt.Sprintf("%q is the only cell in its row", alone.Text),
		"fill in the others; if it is a note, move it to a column that is not read, or write "+lastLine(last))
}

func dotWithoutPlayer(at source.Span, mayFill bool) source.Problem {
	do := "write the player's name"
	if mayFill {
		do += `; if it is that of the row above, write in [drill.columns]: fill = "down"`
	}
	return source.ErrorAt("missing-cell", at, "this row has a dot but no player", do)
}

func dotWithoutSet(at source.Span) source.Problem {
	return source.ErrorAt("missing-cell", at,
		"this row has a dot but no set",
		`write the set; if it is that of the row above, write in [drill.columns]: fill = "down"`)
}

func unlisted(label table.Cell, key string) source.Problem {
	example := key + ` = "..."`
	if key == "movement" {
		example = "movement = 1"
	}
	return source.ErrorAt("missing-cell", label.Span,
		fmt.Sprintf("set %s has no %s", label.Text, key),
		fmt.Sprintf("fill in the sheet's %s, or say where they are in [drill.columns]: %s", key, example))
}

func setsInOneSheet(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"the sets are listed in one sheet",
		"write its name, without {set}")
}
