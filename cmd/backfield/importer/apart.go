package importer

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"backfield/layout/drill"
	"backfield/layout/drill/guess"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Read reads and checks a drill.
func Read(in drill.Sheets, ground field.Field) (*drill.Drill, *source.Problems) {
	var p source.Problems
	d := drill.Read(in, ground, &p)
	d.Check(nil, &p)
	return d, &p
}

// GuessSets proposes the layout of the sheet of sets: of the file that has them, or else of one in the workbook of the
// dots, where the dots have no counts with them. It reports whether that workbook has them.
func GuessSets(w io.Writer, in *drill.Sheets, c *rows.Columns) (inWorkbook bool) {
	from := in.Sets
	if in.Together {
		from = in.Dots
	}
	if c.Sets != nil || in.Together && c.Counts.Set {
		return false
	}
	var p source.Problems // whoever reads the file reports them
	sets := guess.Sets(from, &p)
	if sets == nil || in.Together && !sets.Sheet.Set {
		return false
	}
	if in.Together {
		fmt.Fprintf(w, "the sets are in the sheet %q of the same workbook\n", sets.Sheet.V)
	}
	if sets.Movement.All.Set {
		fmt.Fprintf(w, "no movement column found in the sets: taking every set as movement 1\n")
	}
	c.Sets = sets
	return in.Together
}

// Settle lays what was given over columns that were guessed: what a sheet of sets says is not read from the dots, and
// without movements there is one.
func Settle(w io.Writer, in *drill.Sheets, given []string, guessed bool) error {
	c := in.Columns
	if !in.Together { // the other sheet has these
		c.Movement, c.Counts, c.Hold = rows.MovementKey{}, table.Text{}, table.Text{}
	}
	if err := Override(c, given); err != nil {
		return err // it was taken before
	}
	if guessed && in.Together && !c.Movement.Set && !c.Movement.All.Set {
		c.Movement.All = table.Int{V: 1, Set: true}
		fmt.Fprintf(w, "no movement column found: taking every set as movement 1\n")
	}
	return nil
}

// AskDepthFrom asks which line depths count from that are numbers alone, if a problem says so. It reports whether there
// was an answer, which then is in the columns.
func AskDepthFrom(c *rows.Columns, problems []source.Problem, ground field.Field,
	put func(question string, value *string, check func(string) error) error) bool {
	asked := func(x source.Problem) bool { return strings.Contains(x.Do, "depth_from = ") }
	if !slices.ContainsFunc(problems, asked) {
		return false
	}
	answer := ""
	const question = "depths are numbers alone; they count from (front sideline, front hash, in front of back " +
		"sideline, ...; Enter to leave it)"
	err := put(question, &answer, func(text string) error {
		if _, fault := ground.Depth("on " + direction.ReplaceAllString(text, "")); fault != nil {
			return fmt.Errorf("%q is no hash or sideline", text)
		}
		return nil
	})
	if err != nil || answer == "" {
		return false
	}
	c.DepthFrom = table.Text{V: answer, Set: true}
	return true
}

// direction is before the line in an answer, where depths grow from it in one direction.
var direction = regexp.MustCompile(`(?i)^(?:behind|in front of) `)
