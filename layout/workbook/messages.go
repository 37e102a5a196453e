package workbook

import (
	"fmt"

	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

// unreadable is what the library makes of a workbook that the inspection has let through.
func unreadable(why any) error {
	return fmt.Errorf("no workbook that can be read (%v); open it in the spreadsheet and save it again as .xlsx", why)
}

func inMerge(first int, from, to cellAt) source.Flaw {
	return source.Flaw{
		At:   first,
		What: fmt.Sprintf("the cells %s to %s are merged into one", from, to),
		Do:   "split them, and write into each cell what belongs to it",
	}
}

func noResult() source.Flaw {
	return source.Flaw{
		What: "this cell holds a formula and no result of it",
		Do:   "open the workbook in the spreadsheet, let it calculate, and save it; or write the value",
	}
}

func failedFormula(held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("the formula of this cell has failed: %s", held),
		Do:   "mend the formula, or write the value",
	}
}

func madeADate(held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("the spreadsheet made a date of this cell (%s)", held),
		Do:   asText,
	}
}

func noNumber(held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("this cell is marked as a number and holds %q", held),
		Do:   "type it again",
	}
}

func shownOtherwise(shown, held string) source.Flaw {
	return source.Flaw{
		What: fmt.Sprintf("this cell shows %q and holds the number %s: a date that the spreadsheet made of what was "+
			"typed, or a format of its own", shown, plainNumber(held)),
		Do: asText,
	}
}
