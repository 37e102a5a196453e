// Package slip knows the slips in TOML that people make by habit: from where the parser stopped, what was meant and what
// to write instead. The parser's own words are for what is left.
package slip

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"backfield/layout/source"
)

// Slip is a mistake whose cause is known: where it is, what is wrong, and what to write.
type Slip struct {
	At       source.Span
	What, Do string
}

// quoted is what no bracket or quote counts in: whole strings, and comments.
var quoted = regexp.MustCompile(`"""[\s\S]*?"""|'''[\s\S]*?'''|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|#[^\n]*`)

// blank is a text of the same length without its strings and comments.
func blank(text string) string {
	return quoted.ReplaceAllStringFunc(text, func(x string) string { return strings.Repeat(" ", len(x)) })
}

// Line is the line that a place begins on, and where it begins in the file.
func Line(at source.Span) (line string, lo int) {
	text := at.File.Text
	start := min(at.Start, len(text))
	lo = strings.LastIndexByte(text[:start], '\n') + 1
	hi := len(text)
	if n := strings.IndexByte(text[start:], '\n'); n >= 0 {
		hi = start + n
	}
	return strings.TrimRight(text[lo:hi], "\r"), lo
}

// Twice is about a table or key that the parser has met before.
func Twice(at source.Span) Slip {
	line, _ := Line(at)
	line = strings.TrimSpace(line)
	name, value, isPair := strings.Cut(line, "=")
	name = strings.TrimSpace(name)
	isHeader := strings.HasPrefix(line, "[")
	if isHeader {
		name, _, _ = strings.Cut(strings.TrimLeft(line, "["), "]")
		name = strings.TrimSpace(name)
	}
	entries := isHeader && strings.Contains(at.File.Text, "[["+name+"]]")
	if entries && strings.HasPrefix(line, "[[") { // the single brackets are above
		if n := strings.Index("\n"+at.File.Text, "\n["+name+"]"); n >= 0 {
			at.Start, at.End = n+1, n+1+len(name)
		}
	}
	switch {
	case entries:
		return Slip{at, fmt.Sprintf("[%s] has single brackets", name),
			fmt.Sprintf("write [[%s]] with double brackets: each one is a separate entry", name)}
	case isHeader:
		return Slip{at, fmt.Sprintf("[%s] is here twice", name),
			fmt.Sprintf("write [[%s]] with double brackets if each "+
				"one is a separate entry; otherwise keep one of the two", name)}
	case isPair && strings.HasPrefix(strings.TrimSpace(value), "["):
		return Slip{at, fmt.Sprintf("the key %q is here twice", name),
			"put everything in one list"}
	case isPair:
		return Slip{at, fmt.Sprintf("the key %q is here twice", name),
			"keep one of the two"}
	}
	return Slip{at, "this is defined twice",
		"keep one of the two"}
}

var (
	// pairStart is the beginning of a line that starts something new, which no list goes on with.
	pairStart = regexp.MustCompile(`^\s*(\[\[?[\w.-]+\]|[\w.-]+\s*=)`)
	// spacedKey is a key of several words without quotes, as in { Bari 12 = 1 }.
	spacedKey = regexp.MustCompile(`(?:^|[{,])\s*([^\s{},="']+(?:[ \t]+[^\s{},="']+)+)\s*=`)
	// blankField is what a printed sheet leaves to fill in.
	blankField = regexp.MustCompile(`_{2,}`)
	bareValue  = regexp.MustCompile(`^[^\s"'\[{#,\]}][^"'\[{#,\]}]*`)
)

const curly = "“”„‟‘’‚«»"

// Habit recognizes a slip from where the parser stopped, and what it said; nil for none that is known.
func Habit(at source.Span, said string) *Slip {
	line, lo := Line(at)
	if n := strings.IndexAny(blank(line), curly); n >= 0 {
		mark := at
		mark.Start = lo + n
		mark.End = mark.Start + len(string([]rune(line[n:])[0]))
		return &Slip{mark, "this is a curly quote", `use straight quotes (")`}
	}
	s := stop{at: at, line: line, bare: blank(line), lo: lo, col: min(max(at.Start-lo, 0), len(line)), next: '\n',
		reason: said}
	s.col += len(line[s.col:]) - len(strings.TrimLeft(line[s.col:], " \t")) // it may stop before a space
	if s.col < len(line) {
		s.next = line[s.col]
	}
	if found := single(at, said); found != nil {
		return found
	}
	if found := header(s); found != nil {
		return found
	}
	if found := brace(s); found != nil {
		return found
	}
	if h := unclosedList(at, line, lo); h != nil {
		return h
	}
	if strings.Contains(said, "'.' or '='") {
		for _, m := range spacedKey.FindAllStringSubmatchIndex(line, -1) {
			if key := line[m[2]:m[3]]; m[2] <= at.Start-lo {
				mark := source.Span{File: at.File, Start: lo + m[2], End: lo + m[3]}
				return &Slip{mark, "this name has a space in it",
					fmt.Sprintf("put a name with a space in quotes: %q", key)}
			}
		}
	}
	if found := unquoted(at, line, lo, said); found != nil {
		return found
	}
	return onLine(s)
}

// unclosedList finds a list above that nothing closes: the parser stops where the next key or table begins.
func unclosedList(at source.Span, line string, lo int) *Slip {
	if at.Start < len(at.File.Text) && !pairStart.MatchString(line) {
		return nil
	}
	var open []int
	for i, c := range []byte(blank(at.File.Text[:min(lo, at.Start)])) {
		switch c {
		case '[':
			open = append(open, i)
		case ']':
			open = open[:max(len(open)-1, 0)]
		}
	}
	if len(open) == 0 {
		return nil
	}
	mark := source.Span{File: at.File, Start: open[0], End: open[0] + 1}
	return &Slip{mark, "this list has no closing ]", "add it"}
}

// words for yes and no that are not TOML's.
var yesNo = map[string]string{"yes": "true", "on": "true", "true": "true", "no": "false", "off": "false",
	"false": "false"}

// unquoted is about a value that is neither a number nor in quotes.
func unquoted(at source.Span, line string, lo int, said string) *Slip {
	if !strings.Contains(said, "expected value but found") && !strings.HasPrefix(said, "invalid datetime") &&
		!strings.Contains(said, "end with a newline") {
		return nil
	}
	if m := blankField.FindStringIndex(blank(line)); m != nil {
		what := "this blank is not filled in"
		if more := len(blankField.FindAllString(blank(at.File.Text[lo+m[1]:]), -1)); more > 0 {
			what += fmt.Sprintf(", nor are %d after it", more)
		}
		return &Slip{source.Span{File: at.File, Start: lo + m[0], End: lo + m[1]}, what,
			"fill it in, or remove the line"}
	}
	before := strings.LastIndexAny(line[:min(at.Start-lo, len(line))], "=[,")
	if before < 0 {
		return nil
	}
	from := before + 1
	from += len(line[from:]) - len(strings.TrimLeft(line[from:], " \t"))
	value := strings.TrimRightFunc(bareValue.FindString(line[from:]), unicode.IsSpace)
	if value == "" {
		return nil
	}
	mark := source.Span{File: at.File, Start: lo + from, End: lo + from + len(value)}
	if word := yesNo[strings.ToLower(value)]; word != "" {
		return &Slip{mark, fmt.Sprintf("%s is not a value", value), "write true or false"}
	}
	if _, isTime := strings.CutPrefix(said, "invalid datetime"); isTime && strings.Contains(value, ":") {
		return &Slip{mark, fmt.Sprintf("%s has no quotes", value), fmt.Sprintf("put the count in quotes: %q", value)}
	}
	if strings.ContainsAny(value, "\\=") || !strings.ContainsFunc(value, unicode.IsLetter) {
		return nil
	}
	return &Slip{mark, fmt.Sprintf("%s has no quotes", value), fmt.Sprintf("put it in quotes: %q", value)}
}
