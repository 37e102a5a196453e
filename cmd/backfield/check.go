package main

import (
	"encoding/json"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/cue/compile"
	"backfield/layout/source"
)

func checkCommand() *cobra.Command {
	var flags showFlags
	var asJSON, strict, watching bool
	c := &cobra.Command{
		Use:   "check SHOW",
		Short: "report every problem in every file of a show",
		Long: `Reads the whole show and reports every problem in every file, as

    file:line:column: error|warning: what; what to do [code]

with the line and a caret under the place. Nothing is written.

--watch does so now and after every save, until Ctrl-C. With --json it then prints a line of JSON for
each problem, between a line that begins and one that ends the pass, for an editor to read (backfield
help editors).
Exit code 0: no errors (warnings may be there), 1: errors, 3: the score, or the venue
after --venue, cannot be read.`,
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			if watching {
				return checkOnSave(c, &flags, args[0], asJSON)
			}
			_, problems, err := flags.watched(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			if asJSON {
				if err := writeJSON(c, problemRows(problems)); err != nil {
					return err
				}
			} else {
				printProblems(c, c.OutOrStdout(), problems)
				aside(c, "%s: %s", show.Path(args[0]), tally(problems))
			}
			for _, p := range problems {
				if p.Severity == source.Error || strict {
					return told(exitProblems)
				}
			}
			return nil
		},
	}
	flags.add(c)
	c.Flags().BoolVar(&asJSON, "json", false, "print a JSON list")
	c.Flags().BoolVar(&strict, "strict", false, "let warnings count as errors for the exit code")
	c.Flags().BoolVar(&watching, "watch", false, "check again after every save, until Ctrl-C")
	c.MarkFlagsMutuallyExclusive("strict", "watch")
	return c
}

// checkOnSave checks now and after every save. What can be mended while it goes on is a problem like any other.
func checkOnSave(c *cobra.Command, flags *showFlags, arg string, asJSON bool) error {
	flags.Memo = &compile.Memo{}
	score := show.Path(arg)
	return follow(c, flags.named(arg), func(watched []string) ([]string, error) {
		s, problems, err := flags.load(show.Disk{}, arg)
		if s == nil {
			return nil, err
		}
		files := watched
		if err != nil {
			file := &source.File{Name: score}
			problems = []source.Problem{{Code: "cannot-read", Span: file.Whole(), What: err.Error(), Do: "mend it; check goes on with the next save"}}
		} else if files = s.Files; !slices.Equal(files, watched) {
			return files, nil
		}
		if !asJSON {
			fmt.Fprintf(c.OutOrStdout(), "checking %s\n", score)
			printProblems(c, c.OutOrStdout(), problems)
			fmt.Fprintf(c.OutOrStdout(), "checked %s: %s\n", score, tally(problems))
			return files, nil
		}
		return files, world(writePass(c, score, problems))
	})
}

// passRow begins or ends a pass of check --watch --json; passProblem stands between.
type passRow struct {
	Event    string `json:"event"`
	Show     string `json:"show"`
	Errors   *int   `json:"errors,omitempty"`
	Warnings *int   `json:"warnings,omitempty"`
}

type passProblem struct {
	Event string `json:"event"`
	problemRow
}

// writePass writes what a pass found, a line each.
func writePass(c *cobra.Command, score string, problems []source.Problem) error {
	e := json.NewEncoder(c.OutOrStdout())
	e.SetEscapeHTML(false)
	if err := e.Encode(passRow{Event: "begin", Show: score}); err != nil {
		return err
	}
	errors, warnings := 0, 0
	for i, row := range problemRows(problems) {
		if problems[i].Severity == source.Error {
			errors++
		} else {
			warnings++
		}
		if err := e.Encode(passProblem{"problem", row}); err != nil {
			return err
		}
	}
	return e.Encode(passRow{"end", score, &errors, &warnings})
}

// problemRow is a problem as `check --json` prints it; lines and columns count from 1, columns in characters, and the end
// is the place after the last character; line 0 means no place in particular. In a workbook they are row and column of
// the cell, and the sheet is named.
type problemRow struct {
	File      string    `json:"file"`
	Sheet     string    `json:"sheet,omitempty"`
	Line      int       `json:"line"`
	Column    int       `json:"column"`
	EndLine   int       `json:"endLine"`
	EndColumn int       `json:"endColumn"`
	Severity  string    `json:"severity"`
	Code      string    `json:"code"`
	Message   string    `json:"message"`
	Do        string    `json:"do"`
	Notes     []noteRow `json:"notes"`
}

type noteRow struct {
	File   string `json:"file"`
	Sheet  string `json:"sheet,omitempty"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

func problemRows(problems []source.Problem) []problemRow {
	rows := []problemRow{}
	for _, p := range problems {
		row := problemRow{Severity: p.Severity.String(), Code: p.Code, Message: p.What, Do: p.Do, Notes: []noteRow{}}
		row.File, row.Sheet, row.Line, row.Column = at(p.Span)
		row.EndLine, row.EndColumn = p.Span.EndPosition()
		for _, n := range p.Notes {
			note := noteRow{Text: n.Text}
			note.File, note.Sheet, note.Line, note.Column = at(n.Span)
			row.Notes = append(row.Notes, note)
		}
		rows = append(rows, row)
	}
	return rows
}

func at(s source.Span) (file, sheet string, line, column int) {
	if s.File == nil {
		return "", "", 0, 0
	}
	if in := s.File.SheetAt(s.Start); in != nil {
		sheet = in.Name
	}
	line, column = s.Position()
	return s.File.Name, sheet, line, column
}

func writeJSON(c *cobra.Command, v any) error {
	e := json.NewEncoder(c.OutOrStdout())
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return world(e.Encode(v))
}
