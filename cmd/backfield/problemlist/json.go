package problemlist

import (
	"encoding/json"
	"io"

	"backfield/layout/source"
)

// passRow begins or ends a pass of check --watch --json. The passProblems come between.
type passRow struct {
	Event    string `json:"event"`
	Show     string `json:"show"`
	Errors   *int   `json:"errors,omitempty"`
	Warnings *int   `json:"warnings,omitempty"`
}

type passProblem struct {
	Event string `json:"event"`
	ProblemRow
}

// WritePass writes a line of JSON for each problem that a pass over a show found and for all that had no effect, after a
// line that begins the pass and before one that ends it. score is the path of the show. The error is that of w.
func WritePass(w io.Writer, score string, problems []source.Problem, idle []source.Idle) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	if err := e.Encode(passRow{Event: "begin", Show: score}); err != nil {
		return err
	}
	for _, row := range Rows(problems, idle) {
		if err := e.Encode(passProblem{"problem", row}); err != nil {
			return err
		}
	}
	errors, warnings := count(problems)
	return e.Encode(passRow{"end", score, &errors, &warnings})
}

// ProblemRow is a problem as JSON. Lines and columns count from 1, columns in characters, and the end is after the last
// character; line 0 means no particular place. In a workbook they are the row and column of the cell, and Sheet is its
// sheet.
type ProblemRow struct {
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
	Notes     []NoteRow `json:"notes"`
}

// NoteRow is another place that a problem names, and what it says about it.
type NoteRow struct {
	File   string `json:"file"`
	Sheet  string `json:"sheet,omitempty"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
}

// Rows makes the rows of problems, in their order, and after them of what had no effect.
func Rows(problems []source.Problem, idle []source.Idle) []ProblemRow {
	rows := []ProblemRow{}
	for _, p := range problems {
		row := ProblemRow{Severity: p.Severity.String(), Code: p.Code, Message: p.What, Do: p.Do, Notes: []NoteRow{}}
		row.File, row.Sheet, row.Line, row.Column = at(p.Span)
		row.EndLine, row.EndColumn = p.Span.EndPosition()
		for _, n := range p.Notes {
			note := NoteRow{Text: n.Text}
			note.File, note.Sheet, note.Line, note.Column = at(n.Span)
			row.Notes = append(row.Notes, note)
		}
		rows = append(rows, row)
	}
	for _, x := range idle {
		row := ProblemRow{Severity: "info", Code: "no-effect", Message: "no effect: " + x.What, Notes: []NoteRow{}}
		row.File, row.Sheet, row.Line, row.Column = at(x.Span)
		row.EndLine, row.EndColumn = x.Span.EndPosition()
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
