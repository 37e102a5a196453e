// Package source holds what was read and what is wrong with it: files, byte ranges in them, and problems
// that point at such ranges. Everything that reads a show passes a Problems down and gets on with the best
// partial result; only the caller decides to stop. It reads no file itself and knows no format.
package source

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// File is one text that was read. Order is its rank in the listing of problems: the file read first has
// the lowest. Page is the help page about files of its kind, "" where that is not known.
type File struct {
	Name  string
	Text  string
	Order int
	Page  string

	// Sheets are those of a workbook, in order; nil for a text file. A place in one is given as in a spreadsheet
	// program.
	Sheets []WorkbookSheet

	lines []int // offset of each line's first byte, made when first asked for
}

// WorkbookSheet is one sheet of a workbook: in the file's text its rows are the lines from Start on, up to those of the
// next sheet, and its cells are separated by tabs.
type WorkbookSheet struct {
	Name  string
	Start int
	Flaws map[int]Flaw // by the offset of the cell's first byte: why it is not to be read as it is
}

// Flaw is what keeps a cell from being read: At is the offset that is to blame, the cell's own or another's. Merged says
// that it is one of several cells that are merged.
type Flaw struct {
	At       int
	What, Do string
	Merged   bool
}

// SheetAt returns the sheet of a workbook that an offset is in, nil in a text file.
func (f *File) SheetAt(offset int) *WorkbookSheet {
	i := sort.Search(len(f.Sheets), func(i int) bool { return f.Sheets[i].Start > offset })
	if i == 0 {
		return nil
	}
	return &f.Sheets[i-1]
}

// Span is a range of bytes in a file; End is exclusive. The zero Span means "no place in particular".
type Span struct {
	File       *File
	Start, End int
}

// Within returns the part of s from byte lo to byte hi of its text, as the grammar of a string gives it.
func (s Span) Within(lo, hi int) Span {
	if s.File == nil {
		return s
	}
	return Span{s.File, min(s.Start+lo, s.End), min(s.Start+hi, s.End)}
}

// Whole is the span of a file as a whole: its first byte.
func (f *File) Whole() Span { return Span{File: f} }

// Position returns line and column, both from 1; the column counts characters, not bytes. In a workbook they are
// row and column of the cell.
func (s Span) Position() (line, column int) {
	if s.File == nil {
		return 0, 0
	}
	at := min(s.Start, len(s.File.Text))
	starts := s.File.lineStarts()
	line = sort.SearchInts(starts, at+1)
	if sheet := s.File.SheetAt(at); sheet != nil {
		column = strings.Count(s.File.Text[starts[line-1]:at], "\t") + 1
		return line - sort.SearchInts(starts, sheet.Start+1) + 1, column
	}
	return line, utf8.RuneCountInString(s.File.Text[starts[line-1]:at]) + 1
}

// EndPosition returns line and column, both from 1, of the first character after s.
func (s Span) EndPosition() (line, column int) { return Span{s.File, s.End, s.End}.Position() }

// Offset is the byte of the column-th byte of a line, both from 1.
func (f *File) Offset(line, column int) int {
	starts := f.lineStarts()
	if line < 1 || line > len(starts) {
		return len(f.Text)
	}
	return min(starts[line-1]+column-1, len(f.Text))
}

func (f *File) lineStarts() []int {
	if f.lines == nil {
		f.lines = []int{0}
		for i := 0; i < len(f.Text); i++ {
			if f.Text[i] == '\n' {
				f.lines = append(f.lines, i+1)
			}
		}
	}
	return f.lines
}

// Where is the short form of a place, "show.toml:12:3", in a workbook "drill.xlsx:Dots!B7", and "" for no place.
func (s Span) Where() string {
	if s.File == nil {
		return ""
	}
	line, column := s.Position()
	if sheet := s.File.SheetAt(s.Start); sheet != nil {
		return fmt.Sprintf("%s:%s!%s%d", s.File.Name, sheet.Name, ColumnName(column), line)
	}
	return fmt.Sprintf("%s:%d:%d", s.File.Name, line, column)
}

// ColumnName is a spreadsheet's name of its n-th column, from 1: A, B, ... Z, AA.
func ColumnName(n int) string {
	name := ""
	for ; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return name
}

// Open makes a File of raw bytes, or says why they are not text that a show may be written in: UTF-8, with
// or without a byte order mark, no NUL bytes, and at most limit bytes.
func Open(name string, raw []byte, limit int) (*File, error) {
	switch {
	case len(raw) > limit:
		return nil, fmt.Errorf("%d bytes long, over the limit of %d; split it, or check that it is the right file",
			len(raw), limit)
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}), bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		return nil, fmt.Errorf("written in UTF-16; save it again as UTF-8 (in a spreadsheet program: \"CSV UTF-8\")")
	}
	raw = bytes.TrimPrefix(raw, []byte{0xEF, 0xBB, 0xBF})
	if i := bytes.IndexByte(raw, 0); i >= 0 {
		return nil, fmt.Errorf("not a text file (a NUL byte at offset %d); export it as plain text or CSV", i)
	}
	if !utf8.Valid(raw) {
		at := 0
		for at < len(raw) {
			r, n := utf8.DecodeRune(raw[at:])
			if r == utf8.RuneError && n <= 1 {
				break
			}
			at += n
		}
		line := bytes.Count(raw[:at], []byte("\n")) + 1
		return nil, fmt.Errorf("not UTF-8 text (line %d has the byte 0x%02X); save it again as UTF-8", line, raw[at])
	}
	return &File{Name: name, Text: string(raw)}, nil
}

// Severity says whether a mistake stops a compile.
type Severity int

// The two severities.
const (
	Error Severity = iota
	Warning
)

func (s Severity) String() string {
	if s == Warning {
		return "warning"
	}
	return "error"
}

// Note is another place that belongs to a problem, such as where a name was first given.
type Note struct {
	Span Span
	Text string
}

// Problem is one thing that is wrong: how bad, a stable short code per kind, where, what, and what to do.
type Problem struct {
	Severity Severity
	Code     string
	Span     Span
	What, Do string
	Notes    []Note
}

// Fault is what is wrong with the grammar of one string: the bytes of it that are meant, what is wrong and
// what to write instead. Word is the one that nobody knows, where that is what is wrong.
type Fault struct {
	Lo, Hi   int
	What, Do string
	Word     string
}

// Error makes a fault an error: what is wrong, and what to write.
func (f *Fault) Error() string { return f.What + "; " + f.Do }

// Problems collects problems. The zero value is ready. It is not safe for concurrent use.
type Problems struct {
	list   []Problem
	errors int
	closed map[Span]bool
	idle   []Idle
	used   map[inFile]bool
}

// inFile is where something is in a file, which may have been read twice.
type inFile struct {
	file       string
	start, end int
}

func (s Span) inFile() inFile {
	if s.File == nil {
		return inFile{}
	}
	return inFile{s.File.Name, s.Start, s.End}
}

// Idle is something in a file that changed nothing: where it is, and what.
type Idle struct {
	Span Span
	What string
}

// Idle notes something that changed nothing. That is no mistake, but may be one.
func (p *Problems) Idle(at Span, what string) { p.idle = append(p.idle, Idle{at, what}) }

// Used notes that something was read, although another reader of the same file may pass it over.
func (p *Problems) Used(at Span) {
	if p.used == nil {
		p.used = map[inFile]bool{}
	}
	p.used[at.inFile()] = true
}

// AllIdle returns whatever changed nothing, each once, by file in the order of reading, then by place.
func (p *Problems) AllIdle() (all []Idle) {
	seen := map[inFile]bool{}
	for _, x := range p.idle {
		if at := x.Span.inFile(); !p.used[at] && !seen[at] {
			seen[at], all = true, append(all, x)
		}
	}
	slices.SortStableFunc(all, func(a, b Idle) int {
		return cmp.Or(cmp.Compare(order(a.Span.File), order(b.Span.File)), cmp.Compare(a.Span.Start, b.Span.Start))
	})
	return all
}

// Add takes one problem. One at a closed place counts, so that a caller knows that something is wrong, and is
// not listed.
func (p *Problems) Add(x Problem) {
	if x.Severity == Error {
		p.errors++
	}
	if !p.closed[x.Span] {
		p.list = append(p.list, x)
	}
}

// Close ends what can be said about a value that could not be read at all: whatever is found wrong at this very
// place after this comes from the value that replaces it.
func (p *Problems) Close(at Span) {
	if p.closed == nil {
		p.closed = map[Span]bool{}
	}
	p.closed[at] = true
}

// ErrorAt makes an error.
func ErrorAt(code string, at Span, what, do string, notes ...Note) Problem {
	return Problem{Error, code, at, what, do, notes}
}

// WarningAt makes a warning.
func WarningAt(code string, at Span, what, do string, notes ...Note) Problem {
	return Problem{Warning, code, at, what, do, notes}
}

// Error adds an error.
func (p *Problems) Error(code string, at Span, what, do string, notes ...Note) {
	p.Add(Problem{Error, code, at, what, do, notes})
}

// Warn adds a warning.
func (p *Problems) Warn(code string, at Span, what, do string, notes ...Note) {
	p.Add(Problem{Warning, code, at, what, do, notes})
}

// Errors is the number of errors so far: what a caller asks before it goes on.
func (p *Problems) Errors() int { return p.errors }

// Has reports whether a problem of one of the codes was found in a file.
func (p *Problems) Has(f *File, codes ...string) bool {
	return slices.ContainsFunc(p.list, func(x Problem) bool {
		return x.Span.File == f && slices.Contains(codes, x.Code)
	})
}

// MayHold reports whether a file that could not be read to its end may have a name in it. One that is not
// there or is empty may have held any.
func (f *File) MayHold(name string) bool {
	return f == nil || strings.TrimSpace(f.Text) == "" || strings.Contains(f.Text, name)
}

// All returns every problem once, by file in the order of reading, then by place, errors first.
func (p *Problems) All() []Problem {
	all := slices.Clone(p.list)
	slices.SortStableFunc(all, func(a, b Problem) int {
		return cmp.Or(
			cmp.Compare(order(a.Span.File), order(b.Span.File)),
			cmp.Compare(a.Span.Start, b.Span.Start),
			cmp.Compare(a.Severity, b.Severity),
			cmp.Compare(a.Code, b.Code),
			cmp.Compare(a.What, b.What),
		)
	})
	return slices.CompactFunc(all, func(a, b Problem) bool {
		return a.Span == b.Span && a.Code == b.Code && a.What == b.What
	})
}

func order(f *File) int {
	if f == nil {
		return -1
	}
	return f.Order
}

// Nearest returns the candidate that a misspelled word most likely means, or "". Case counts for
// nothing; of equally near ones the first is taken.
func Nearest(word string, candidates []string) string {
	best, found := min(1+len(word)/3, 4, len(word)-1), "" // a word of which no letter is right is another word
	for _, c := range candidates {
		d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(c))
		if d < best || d == best && found == "" {
			best, found = d, c
		}
	}
	return found
}

// DidYouMean words a suggestion: `did you mean "Tpt 3"?`, or otherwise when nothing is near.
func DidYouMean(word string, candidates []string, otherwise string) string {
	if near := Nearest(word, candidates); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return otherwise
}

// Count words how many there are of something that takes an s: "1 count", "2.5 counts", "0 seats".
func Count(n float64, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return strconv.FormatFloat(n, 'f', -1, 64) + " " + noun
}

// OneOfOr words a choice, or what to do where there is nothing to choose from.
func OneOfOr(words []string, otherwise string) string {
	if len(words) == 0 {
		return otherwise
	}
	return "it is " + OneOf(words)
}

// OneOf words a choice: `one of "a", "b", "c"`, cut after a dozen.
func OneOf(words []string) string {
	quoted := make([]string, 0, len(words))
	for i, w := range words {
		if i == 12 {
			quoted = append(quoted, fmt.Sprintf("... (%d in all)", len(words)))
			break
		}
		quoted = append(quoted, fmt.Sprintf("%q", w))
	}
	return "one of " + strings.Join(quoted, ", ")
}
