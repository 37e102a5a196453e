package workbook

import (
	"fmt"

	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

// unreadable is what the library makes of a workbook that the inspection has let through.
func unreadable(why any) error {
	return fmt.Errorf("not a workbook that can be read (%v); open it in a spreadsheet program and save it again "+
		"as .xlsx", why)
}

func inMerge(first int, from, to cellAt) source.Flaw {
	return source.Flaw{
		At:   first,
		What: fmt.Sprintf("the cells %s to %s are merged into one", from, to),
		Do:   "unmerge them, and fill in each cell",

		Merged: true,
	}
}

func noResult() source.Flaw {
	return source.Flaw{
		What: "this cell has a formula without a result",
		Do:   "open the workbook in a spreadsheet program, let it calculate, and save it; or write the value",
	}
}

func failedFormula(held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("this cell's formula failed: %s", held),
		Do:   "fix the formula, or write the value",
	}
}

func turnedIntoDate(held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("the spreadsheet turned this cell into a date (%s)", held),
		Do:   asText,
	}
}

func noNumber(held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("this cell is marked as a number but holds %q", held),
		Do:   "type it again",
	}
}

func shownDifferently(shown, held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("this cell shows %q but holds the number %s: the spreadsheet turned it into a date, or the "+
			"cell has a format of its own", shown, plainNumber(held)),
		Do: asText,
	}
}
