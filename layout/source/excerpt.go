package source

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"backfield/layout/visible"
)

// shownWidth is how many characters of a line an excerpt shows: what fits a terminal beside its gutter.
const shownWidth = 140

// Print writes problems for people: `file:line:column: error: what; what to do [code]`, then the line with
// a caret under the place, then the notes in the same way.
func Print(w io.Writer, problems []Problem) { Printer{}.Print(w, problems) }

// Printer prints problems, in color or not. Color adds nothing to the words.
// With color it must write to the terminal itself (visible.Raw); all text that is not its own is made visible.
type Printer struct {
	Color bool
	// Columns is how wide the terminal is, and Wrap breaks a line for it. 0 leaves lines as they are.
	Columns int
	Wrap    func(line string, columns int) []string
}

// Print is the function Print.
func (o Printer) Print(w io.Writer, problems []Problem) {
	for _, p := range problems {
		in := o.ink(p.Severity)
		where := p.Span.Where()
		if where != "" {
			where += ": "
		}
		text := p.What
		if p.Do != "" {
			text += "; " + p.Do
		}
		severity := p.Severity.String() + ":"
		message := o.broken(fmt.Sprintf("%s%s %s [%s]", visible.Text(where), severity, visible.Line(text), p.Code))
		fmt.Fprintln(w, strings.Replace(message, severity, in(p.Severity.String())+":", 1))
		o.excerpt(w, p.Span, in)
		for _, n := range p.Notes {
			at := n.Span.Where()
			if at != "" {
				at += ": "
			}
			fmt.Fprintln(w, o.broken(fmt.Sprintf("  note: %s%s", visible.Text(at), visible.Line(n.Text))))
		}
	}
}

// broken is a line broken to fit the terminal.
func (o Printer) broken(line string) string {
	if o.Columns == 0 || strings.Contains(line, "\n") {
		return line
	}
	return strings.Join(o.Wrap(line, o.Columns), "\n")
}

// Colors of a terminal (ECMA-48, Select Graphic Rendition): bold red, bold yellow, and back. Both can be read on light
// and on dark.
const (
	errorInk, warningInk, plainInk = "\x1b[1;31m", "\x1b[1;33m", "\x1b[0m"
)

// ink is what gives a text the color of a severity.
func (o Printer) ink(s Severity) func(string) string {
	if !o.Color {
		return func(text string) string { return text }
	}
	colour := errorInk
	if s == Warning {
		colour = warningInk
	}
	return func(text string) string { return colour + text + plainInk }
}

// excerpt shows the line that s begins on and a caret under it. Each rune before the place is copied as a
// space, each tab stays a tab, so that the caret is in place whatever the tab width.
func (o Printer) excerpt(w io.Writer, s Span, in func(string) string) {
	if s.File == nil || s.File.Text == "" {
		return
	}
	line, lo := s.line()
	start := min(s.Start, len(s.File.Text))
	at := min(start-lo, len(line))
	end := min(max(s.End-lo, at), len(line))

	before, marked, after := line[:at], line[at:end], line[end:]
	switch width := o.Columns - len("00000 | "); {
	case o.Columns == 0 && utf8.RuneCountInString(line) > shownWidth:
		before, marked, after = tail(before, shownWidth/2), head(marked, shownWidth/2), head(after, shownWidth/4)
	case o.Columns > 0 && utf8.RuneCountInString(line) > width:
		room := max(width-3, 4) // three marks where it is cut
		marked = head(marked, room/2)
		after = head(after, room/4)
		before = tail(before, room-utf8.RuneCountInString(marked)-utf8.RuneCountInString(after))
	}
	before, marked, after = visible.Line(before), visible.Line(marked), visible.Line(after)
	pad := strings.Map(func(r rune) rune {
		if r == '\t' {
			return r
		}
		return ' '
	}, before)
	number, _ := s.Position()
	mark := "^" + strings.Repeat("~", max(utf8.RuneCountInString(marked)-1, 0))
	fmt.Fprintf(w, "%5d | %s\n      | %s%s\n", number, before+marked+after, pad, in(mark))
}

func head(s string, n int) string {
	for i := range s {
		if n == 0 {
			return s[:i] + "…"
		}
		n--
	}
	return s
}

func tail(s string, n int) string {
	for i := len(s); i > 0; {
		if n == 0 {
			return "…" + s[i:]
		}
		_, size := utf8.DecodeLastRuneInString(s[:i])
		i -= size
		n--
	}
	return s
}

// line is the whole line that s begins on, and the offset of its first byte.
func (s Span) line() (text string, lo int) {
	all := s.File.Text
	start := min(s.Start, len(all))
	lo = strings.LastIndexByte(all[:start], '\n') + 1
	text, _, _ = strings.Cut(all[lo:], "\n")
	return strings.TrimSuffix(text, "\r"), lo
}

// Line is the text of the line that s begins on, "" for no place.
func (s Span) Line() string {
	if s.File == nil {
		return ""
	}
	text, _ := s.line()
	return text
}
