// Package csvtext finds the rows and the cells of a sheet that is a text file.
package csvtext

import (
	"encoding/csv"
	"errors"
	"io"
	"strings"

	"backfield/layout/separator"
	"backfield/layout/source"
)

// Rows finds where each row begins that is not blank, up to the first that cannot be read, and what separates the cells.
func Rows(f *source.File, p *source.Problems) (starts []uint32, comma byte) {
	r := csv.NewReader(strings.NewReader(f.Text))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = separator.Of(f.Text), -1, true
	for {
		record, err := r.Read()
		if err == io.EOF {
			return starts, byte(r.Comma)
		}
		if err != nil {
			p.Add(problem(f, err))
			return starts, byte(r.Comma)
		}
		if !blank(record) && (len(starts) > 0 || !strings.HasPrefix(record[0], separator.Line)) {
			starts = append(starts, uint32(f.Offset(r.FieldPos(0))))
		}
	}
}

func blank(record []string) bool {
	for _, s := range record {
		if strings.TrimSpace(s) != "" {
			return false
		}
	}
	return true
}

// CellBytes is a cell of a row: its bytes without the quotes around it.
type CellBytes struct {
	Start, End int
	Quoted     bool
}

// Cut cuts the row that begins at a place of a text into its cells. mayQuote says that a cell may be in quotes.
func Cut(text string, at int, comma byte, mayQuote bool) (parts []CellBytes) {
	for more := true; more; {
		end, quoted := at, mayQuote && strings.HasPrefix(text[at:], `"`)
		if quoted {
			at++
			for end = at; text[end] != '"' || strings.HasPrefix(text[end:], `""`); end++ {
				if text[end] == '"' {
					end++
				}
			}
		} else {
			for end < len(text) && text[end] != comma && text[end] != '\n' {
				end++
			}
		}
		parts = append(parts, CellBytes{at, end, quoted})
		if quoted {
			end++
		}
		more = end < len(text) && text[end] == comma
		at = end + 1
	}
	return parts
}

// problem says where and why the parser gave up.
func problem(f *source.File, err error) source.Problem {
	var parse *csv.ParseError
	if !errors.As(err, &parse) {
		return noMoreRows(f.Whole(), err.Error(), "")
	}
	at := f.Offset(parse.Line, parse.Column)
	span := source.Span{File: f, Start: at, End: min(at+1, len(f.Text))}
	switch {
	case errors.Is(parse.Err, csv.ErrBareQuote):
		return quoteInside(span)
	case errors.Is(parse.Err, csv.ErrQuote) && parse.StartLine < parse.Line:
		at = lastQuote(f.Text, f.Offset(parse.StartLine, 1), at)
		return quoteOpen(source.Span{File: f, Start: at, End: at + 1})
	case errors.Is(parse.Err, csv.ErrQuote):
		return quoteEnds(span)
	}
	return noMoreRows(span, parse.Err.Error(), "")
}

// lastQuote is where, between two places of a sheet, the last quoted cell begins.
func lastQuote(text string, from, to int) int {
	at, inside := from, false
	for i := from; i < to; i++ {
		switch {
		case text[i] != '"':
		case inside && i+1 < to && text[i+1] == '"':
			i++
		default:
			if inside = !inside; inside {
				at = i
			}
		}
	}
	return at
}

// noMoreRows is a mistake in the syntax of a sheet, after which nothing more of it is read.
func noMoreRows(at source.Span, what, do string) source.Problem {
	const rest = "the rest of this sheet is not read until then"
	if do == "" {
		return source.ErrorAt("csv-syntax", at, what, rest)
	}
	return source.ErrorAt("csv-syntax", at, what, do+"; "+rest)
}

func quoteInside(at source.Span) source.Problem {
	return noMoreRows(at,
		"a quote inside a cell that does not start with a quote",
		"put the whole cell in quotes and double the inner quote")
}

func quoteOpen(at source.Span) source.Problem {
	return noMoreRows(at,
		"this quote is not closed in its row",
		"close it, or remove it")
}

func quoteEnds(at source.Span) source.Problem {
	return noMoreRows(at,
		"a cell that begins with a quote does not end with one",
		"close the quote, or double a quote that belongs to the text")
}
