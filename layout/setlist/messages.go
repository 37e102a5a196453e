package setlist

import (
	"fmt"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

// oneOrder is what to do where the rows leave the order of the sets open.
const oneOrder = "put each player's rows in the order of the sets, with at least one player in every set; or " +
	"list the " +
	"sets in a sheet of their own"

func listedTwice(key, set string, first, cell table.Cell) source.Problem {
	return source.ErrorAt("listed-twice", cell.Span,
		fmt.Sprintf("%s of set %s is %s here and %s elsewhere", key, set, cell.Text, first.Text),
		"keep one of them",
		source.Note{Span: first.Span, Text: "elsewhere"})
}

func ordersDisagree(label table.Cell) source.Problem {
	return source.ErrorAt("set-order", label.Span,
		fmt.Sprintf("the order of the sets is unclear: set %s comes before another for one player and after it for "+
			"another", label.Text),
		oneOrder)
}

func orderUnknown(a, b table.Cell) source.Problem {
	return source.ErrorAt("set-order", a.Span,
		fmt.Sprintf("the order of the sets is unclear: no player has a dot in set %s and set %s, one right after the "+
			"other", a.Text, b.Text),
		oneOrder)
}
