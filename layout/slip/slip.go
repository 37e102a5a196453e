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
	Counted  bool // it says how many more of its kind there are
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
		return Slip{At: at, What: fmt.Sprintf("[%s] has single brackets", name),
			Do: fmt.Sprintf("write [[%s]] with double brackets: each one is a separate entry", name)}
	case isHeader:
		return Slip{At: at, What: fmt.Sprintf("[%s] is here twice", name),
			Do: fmt.Sprintf("write [[%s]] with double brackets if each "+
				"one is a separate entry; otherwise keep one of the two", name)}
	case isPair && strings.HasPrefix(strings.TrimSpace(value), "["):
		return Slip{At: at, What: fmt.Sprintf("the key %q is here twice", name),
			Do: "put everything in one list"}
	case isPair:
		return Slip{At: at, What: fmt.Sprintf("the key %q is here twice", name),
			Do: "keep one of the two"}
	}
	return Slip{At: at, What: "this is defined twice",
		Do: "keep one of the two"}
}

var (
	// pairStart is the beginning of a line that starts something new, which no list goes on with.
	pairStart = regexp.MustCompile(`^\s*(\[\[?[\w.-]+\]|[\w.-]+\s*=)`)
	// spacedKey is a key of several words without quotes, as in { Bari 12 = 1 }.
	spacedKey = regexp.MustCompile(`(?:^|[{,])\s*([^\s{},="']+(?:[ \t]+[^\s{},="']+)+)\s*=`)
	// blankField is what a printed sheet leaves to fill in.
	blankField = regexp.MustCompile(`_{2,}`)
	inCounts   = regexp.MustCompile(`^(-?\d+(?:\.\d+)?)\s*counts?$`)
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
		return &Slip{At: mark, What: "this is a curly quote", Do: `use straight quotes (")`}
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
	for _, find := range []func(stop) *Slip{header, wrongBrackets, afterHeader, comment, brace, apostrophe} {
		if found := find(s); found != nil {
			return found
		}
	}
	if h := unclosedList(at, line, lo); h != nil {
		return h
	}
	if strings.Contains(said, "'.' or '='") {
		for _, m := range spacedKey.FindAllStringSubmatchIndex(line, -1) {
			if key := line[m[2]:m[3]]; m[2] <= at.Start-lo {
				mark := source.Span{File: at.File, Start: lo + m[2], End: lo + m[3]}
				return &Slip{At: mark, What: "this name has a space in it",
					Do: fmt.Sprintf("put a name with a space in quotes: %q", key)}
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
	open := unclosed(at.File.Text[:min(lo, at.Start)], '[', ']')
	if len(open) == 0 {
		return nil
	}
	mark := source.Span{File: at.File, Start: open[0], End: open[0] + 1}
	return &Slip{At: mark, What: "this list has no closing ]", Do: "add it"}
}

// unclosed lists where brackets of one kind begin that a text does not close.
func unclosed(text string, opens, closes byte) (open []int) {
	for i, c := range []byte(blank(text)) {
		switch c {
		case opens:
			open = append(open, i)
		case closes:
			open = open[:max(len(open)-1, 0)]
		}
	}
	return open
}

// inBrackets reports whether a line begins within a list or a table in braces.
func inBrackets(before string) bool {
	return len(unclosed(before, '[', ']')) > 0 || len(unclosed(before, '{', '}')) > 0
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
		return &Slip{At: source.Span{File: at.File, Start: lo + m[0], End: lo + m[1]}, What: what,
			Do: "fill it in, or remove the line", Counted: true}
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
		return &Slip{At: mark, What: fmt.Sprintf("%s is not a value", value), Do: "write true or false"}
	}
	if _, isTime := strings.CutPrefix(said, "invalid datetime"); isTime && strings.Contains(value, ":") {
		return &Slip{At: mark, What: fmt.Sprintf("%s has no quotes", value),
			Do: fmt.Sprintf("put the count in quotes: %q", value)}
	}
	if m := inCounts.FindStringSubmatch(value); m != nil {
		return &Slip{At: mark, What: fmt.Sprintf("%s is not a number", value),
			Do: "write the number of counts alone: " + m[1]}
	}
	if strings.ContainsAny(value, "\\=") || !strings.ContainsFunc(value, unicode.IsLetter) {
		return nil
	}
	return &Slip{At: mark, What: fmt.Sprintf("%s has no quotes", value), Do: fmt.Sprintf("put it in quotes: %q", value)}
}

// Alone is the line of a slip, where the parser stopped in it too, and no list or table in braces goes on into it or
// out of it: without it, the lines around it are what they were. It has no file where that is not so.
func (h *Slip) Alone(stopped source.Span) (whole source.Span) {
	line, from := Line(h.At)
	_, stop := Line(stopped)
	text := blank(line)
	same := strings.Count(text, "[") == strings.Count(text, "]") && strings.Count(text, "{") == strings.Count(text, "}")
	if h.Counted || stop != from || inBrackets(h.At.File.Text[:from]) ||
		!same && !shortHeader.MatchString(text) && !oddHeader.MatchString(text) ||
		strings.Contains(line, `"""`) || strings.Contains(line, "'''") {
		return whole
	}
	return source.Span{File: h.At.File, Start: from, End: from + len(line)}
}
