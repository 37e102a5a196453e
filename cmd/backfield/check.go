package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

func checkCommand() *cobra.Command {
	var flags showFlags
	var asJSON, strict bool
	c := &cobra.Command{
		Use:   "check SHOW",
		Short: "report every problem in every file of a show",
		Long: `Reads the whole show and reports every problem in every file, as

    file:line:column: error|warning: what; what to do [code]

with the line and a caret under the place. Nothing is written.
Exit code 0: no errors (warnings may be there), 1: errors, 3: the score, or the venue
after --venue, cannot be read.`,
		Args: exactly(1, "one SHOW"),
		RunE: func(c *cobra.Command, args []string) error {
			_, problems, err := flags.load(show.Disk{}, args[0])
			if err != nil {
				return err
			}
			if asJSON {
				if err := writeJSON(c, problemRows(problems)); err != nil {
					return err
				}
			} else {
				source.Print(c.OutOrStdout(), problems)
				fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", show.Path(args[0]), tally(problems))
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
	return c
}

// problemRow is a problem as `check --json` prints it; lines and columns count from 1, columns in
// characters; line 0 means no place in particular.
type problemRow struct {
	File     string    `json:"file"`
	Line     int       `json:"line"`
	Column   int       `json:"column"`
	Severity string    `json:"severity"`
	Code     string    `json:"code"`
	What     string    `json:"what"`
	Do       string    `json:"do"`
	Notes    []noteRow `json:"notes"`
}

type noteRow struct {
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

func problemRows(problems []source.Problem) []problemRow {
	rows := []problemRow{}
	for _, p := range problems {
		row := problemRow{Severity: p.Severity.String(), Code: p.Code, What: p.What, Do: p.Do, Notes: []noteRow{}}
		row.File, row.Line, row.Column = at(p.Span)
		for _, n := range p.Notes {
			note := noteRow{Text: n.Text}
			note.File, note.Line, note.Column = at(n.Span)
			row.Notes = append(row.Notes, note)
		}
		rows = append(rows, row)
	}
	return rows
}

func at(s source.Span) (file string, line, column int) {
	if s.File == nil {
		return "", 0, 0
	}
	line, column = s.Position()
	return s.File.Name, line, column
}

func writeJSON(c *cobra.Command, v any) error {
	e := json.NewEncoder(c.OutOrStdout())
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return world(e.Encode(v))
}
