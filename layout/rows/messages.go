package rows

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

// oneOrder is what to do where the rows do not tell the order of the sets.
const oneOrder = "put the rows of each player in the order in which the sets are played, and one player's in every " +
	"set; or list the sets in a sheet of their own"

func sameOfDot(at source.Span, a, b string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("%s and %s tell the same of a dot", a, b),
		"keep the one that the sheet has filled in")
}

func noYardColumn(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"the column of the yard line is missing",
		`name it: yard = "..."`)
}

func noLineColumn(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"the column of the hash or sideline is missing",
		`name it: line = "..."`)
}

func halfADot(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"the columns tell only one half of a dot",
		"name those of both: across (lateral; or side, steps, inside, yard) and along (depth; or depth_steps, behind, "+
			"line)")
}

func xWithoutY(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"x and y go together",
		"name both columns")
}

func forEachTwice(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"{set} stands twice",
		"keep one")
}

func notPerSet(at source.Span, column string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("other columns stand for one set each, and %s does not", column),
		"write {set} where the set's label stands in its name")
}

func forEachMisplaced(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"{set} does not belong here",
		"write it into the name of the columns of the dots, or of the sheet")
}

func rowsAndColumns(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"a column of sets, and {set} in the columns of the dots",
		"keep what the sheet has: a row per player and set, or a column per set")
}

func sheetsAndRows(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"{set} in the sheet, and sets within it",
		"keep one: a sheet per set, a column per set or a column of sets")
}

func unknownUnit(unit table.Text) source.Problem {
	return source.ErrorAt("drill-columns", unit.Span,
		fmt.Sprintf("%q is no unit of length", unit.V),
		`write "steps", "m", "yd", "ft" or "in"`)
}

func tooManyRows(at source.Span) source.Problem {
	return source.ErrorAt("too-large", at,
		fmt.Sprintf("more than %d dots", most),
		"split the show; or is this no drill?")
}

func noDotAtAll(name table.Cell) source.Problem {
	return source.WarningAt("missing-dot", name.Span,
		fmt.Sprintf("%s has no dot in any set", name.Text),
		"write them; if this is a note, move it out of the column of players, or write last = N in [drill.columns]")
}

func emptySheet(f *source.File) source.Problem {
	return source.ErrorAt("empty-file", f.Whole(),
		"this sheet is empty",
		"put the table of the drill into it, or name another file")
}

func textHasNoSheets(at source.Span, name string) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("%s is a text file and has no sheets", name),
		"take this key out, or name the workbook")
}

func whichSheet(at source.Span, file string, names []string) source.Problem {
	return source.ErrorAt("which-sheet", at,
		fmt.Sprintf("%s has %d sheets with something in them (%s)", file, len(names), source.OneOf(names)),
		`name the one that is meant, sheet = "`+names[0]+
			`"; with a sheet for each set, its name with {set} for the label`)
}

func unknownSheet(name table.Text, file string, names []string) source.Problem {
	return source.ErrorAt("drill-columns", name.Span,
		fmt.Sprintf("no sheet %q in %s", name.V, file),
		source.DidYouMean(name.V, names, "it has "+source.OneOf(names)))
}

func noPlaceColumns(at source.Span) source.Problem {
	return source.ErrorAt("missing-column", at,
		"the sheet has no columns that tell a place",
		"name them in [drill.columns]: dot, or lateral and depth, or x and y; or their parts")
}

func emptyHeader(at source.Span, header int) source.Problem {
	return source.ErrorAt("drill-columns", at,
		fmt.Sprintf("row %d has nothing in it", header),
		"write the number of the row that names the columns")
}

func headerElsewhere(first, header []table.Cell) source.Problem {
	n := rowNumber(header)
	return source.ErrorAt("missing-column", first[0].Span,
		"this row does not name the columns",
		fmt.Sprintf("row %d does: write header = %d in [drill.columns]", n, n))
}

func noSuchColumn(name table.Text, s *table.Sheet, header []table.Cell, have []string) source.Problem {
	return source.ErrorAt("missing-column", name.Span,
		fmt.Sprintf("row %d of %s names no column %q", rowNumber(header), place(s), name.V),
		source.DidYouMean(name.V, have, "it has "+source.OneOf(have)),
		source.Note{Span: header[0].Span,
			Text: "the row that is taken to name the columns; header = N names another"})
}

func unnamedColumn(at source.Span, name, key string) source.Problem {
	return source.ErrorAt("missing-column", at,
		fmt.Sprintf("the column %q is missing", name),
		fmt.Sprintf("say in [drill.columns] which it is: %s = \"...\"", key))
}

func columnTwice(first, second table.Cell) source.Problem {
	return source.ErrorAt("duplicate-column", second.Span,
		fmt.Sprintf("the column %q stands twice", first.Text),
		"give them names of their own",
		source.Note{Span: first.Span, Text: "first here"})
}

func setColumnTwice(at source.Span, key, set string, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-column", at,
		fmt.Sprintf("two columns %q of set %s", key, set),
		"keep one, or mend the set's label",
		source.Note{Span: first, Text: "first here"})
}

func noSetColumns(at source.Span, pattern string, header []table.Cell) source.Problem {
	return source.ErrorAt("missing-column", at,
		fmt.Sprintf("row %d has no column of the form %q", rowNumber(header), pattern),
		"look how the columns are called there; header = N names another row",
		source.Note{Span: header[0].Span, Text: "the row that is taken to name the columns"})
}

func setLacksColumn(label table.Cell, pattern string) source.Problem {
	return source.ErrorAt("missing-column", label.Span,
		fmt.Sprintf("set %s has no column %q", label.Text, strings.Replace(pattern, forEach, label.Text, 1)),
		"add it, or mend its name")
}

func listedTwice(key, set string, first, cell table.Cell) source.Problem {
	return source.ErrorAt("listed-twice", cell.Span,
		fmt.Sprintf("%s of set %s is %s here and %s elsewhere", key, set, cell.Text, first.Text),
		"keep one of them",
		source.Note{Span: first.Span, Text: "elsewhere"})
}

func aloneInRow(alone table.Cell) source.Problem {
	return source.ErrorAt("missing-cell", alone.Span,
		fmt.Sprintf("%q stands alone in its row", alone.Text),
		"fill in the rest; if it is a note, move it to a column that is not read, or write last = N in [drill.columns]")
}

func dotWithoutPlayer(at source.Span) source.Problem {
	return source.ErrorAt("missing-cell", at,
		"this row has a dot and no player",
		"write whose it is")
}

func unlisted(label table.Cell, key string) source.Problem {
	return source.ErrorAt("missing-cell", label.Span,
		fmt.Sprintf("nothing tells the %s of set %s", key, label.Text),
		fmt.Sprintf("write it in the sheet's %s, or name in [drill.columns] where it stands", key))
}

func ordersDisagree(label table.Cell) source.Problem {
	return source.ErrorAt("set-order", label.Span,
		fmt.Sprintf("in which order the sets are played cannot be told: set %s comes before another for one player "+
			"and after it for another", label.Text),
		oneOrder)
}

func orderUnknown(a, b table.Cell) source.Problem {
	return source.ErrorAt("set-order", a.Span,
		fmt.Sprintf("whether set %s or set %s comes first cannot be told: nobody has a dot in both, one right after "+
			"the other", a.Text, b.Text),
		oneOrder)
}

func setsInOneSheet(at source.Span) source.Problem {
	return source.ErrorAt("drill-columns", at,
		"the sets are listed in one sheet",
		"write its name, without {set}")
}
