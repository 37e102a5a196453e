package table

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"github.com/BurntSushi/toml"

	"backfield/layout/source"
)

// The slips in TOML that people make by habit, and what to write instead. The parser's own words are for what is left.

const notReadOn = "; the rest of this file is not checked until then"

// syntaxProblem takes the place from the byte offset: the parser's own column is wrong at line starts.
func syntaxProblem(f *source.File, err error) source.Problem {
	x := source.Problem{Code: "toml-syntax", Span: f.Whole(), What: err.Error(), Do: "fix the line"}
	var parse toml.ParseError
	if errors.As(err, &parse) {
		x.What = strings.TrimSuffix(parse.Message, ".")
		at := min(max(parse.Position.Start, 0), len(f.Text))
		x.Span = source.Span{File: f, Start: at, End: min(at+max(parse.Position.Len, 1), len(f.Text))}
		if strings.Contains(x.What, "has already been defined") {
			x.Code = "duplicate-key"
			x.Span, x.What, x.Do = givenTwice(x.Span)
		} else if h := habit(x.Span, x.What); h != nil {
			x.Span, x.What, x.Do = h.at, h.what, h.do
		}
	}
	x.Do += notReadOn
	return x
}

// slip is a mistake whose cause is known.
type slip struct {
	at       source.Span
	what, do string
}

// lineAround is the line that a place begins on, and where it begins in the file.
func lineAround(at source.Span) (line string, lo int) {
	text := at.File.Text
	start := min(at.Start, len(text))
	lo = strings.LastIndexByte(text[:start], '\n') + 1
	hi := len(text)
	if n := strings.IndexByte(text[start:], '\n'); n >= 0 {
		hi = start + n
	}
	return strings.TrimRight(text[lo:hi], "\r"), lo
}

// givenTwice is about a table or key that the parser has met before.
func givenTwice(at source.Span) (source.Span, string, string) {
	line, _ := lineAround(at)
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
		return at, fmt.Sprintf("[%s] has single brackets", name),
			fmt.Sprintf("write [[%s]] with double brackets: each one is a separate entry", name)
	case isHeader:
		return at, fmt.Sprintf("[%s] is here twice", name), fmt.Sprintf("write [[%s]] with double brackets if each "+
			"one is a separate entry; otherwise keep one of the two", name)
	case isPair && strings.HasPrefix(strings.TrimSpace(value), "["):
		return at, fmt.Sprintf("the key %q is here twice", name), "put everything in one list"
	case isPair:
		return at, fmt.Sprintf("the key %q is here twice", name), "keep one of the two"
	}
	return at, "this is defined twice", "keep one of the two"
}

var (
	// pairStart is the beginning of a line that starts something new, which no list goes on with.
	pairStart = regexp.MustCompile(`^\s*(\[\[?[\w.-]+\]|[\w.-]+\s*=)`)
	// spacedKey is a key of several words without quotes, as in { Bari 12 = 1 }.
	spacedKey = regexp.MustCompile(`(?:^|[{,])\s*([^\s{},="']+(?:[ \t]+[^\s{},="']+)+)\s*=`)
	bareValue = regexp.MustCompile(`^[^\s"'\[{#,\]}][^"'\[{#,\]}]*`)
)

const curly = "“”„‟‘’‚«»"

// habit recognizes a slip from where the parser stopped, and what it said; nil for none that is known.
func habit(at source.Span, said string) *slip {
	line, lo := lineAround(at)
	if n := strings.IndexAny(line, curly); n >= 0 && !strings.HasPrefix(strings.TrimSpace(line), "#") {
		mark := at
		mark.Start = lo + n
		mark.End = mark.Start + len(string([]rune(line[n:])[0]))
		return &slip{mark, "this is a curly quote", `use straight quotes (")`}
	}
	if h := unclosedList(at, line, lo); h != nil {
		return h
	}
	if strings.Contains(said, "'.' or '='") {
		for _, m := range spacedKey.FindAllStringSubmatchIndex(line, -1) {
			if key := line[m[2]:m[3]]; m[2] <= at.Start-lo {
				mark := source.Span{File: at.File, Start: lo + m[2], End: lo + m[3]}
				return &slip{mark, "this name has a space in it", fmt.Sprintf("put a name with a space in quotes: %q", key)}
			}
		}
	}
	return unquoted(at, line, lo, said)
}

// unclosedList finds a list above that nothing closes: the parser stops where the next key or table begins.
func unclosedList(at source.Span, line string, lo int) *slip {
	if at.Start < len(at.File.Text) && !pairStart.MatchString(line) {
		return nil
	}
	var open []int
	for s := (scanner{text: at.File.Text[:min(lo, at.Start)]}); s.at < len(s.text); s.at++ {
		switch s.text[s.at] {
		case '[':
			open = append(open, s.at)
		case ']':
			open = open[:max(len(open)-1, 0)]
		case '"', '\'':
			s.quoted()
			s.at--
		case '#':
			s.skip("")
			s.at--
		}
	}
	if len(open) == 0 {
		return nil
	}
	mark := source.Span{File: at.File, Start: open[0], End: open[0] + 1}
	return &slip{mark, "this list has no closing ]", "add it"}
}

// words for yes and no that are not TOML's.
var yesNo = map[string]string{"yes": "true", "on": "true", "true": "true", "no": "false", "off": "false",
	"false": "false"}

// unquoted is about a value that is neither a number nor in quotes.
func unquoted(at source.Span, line string, lo int, said string) *slip {
	if !strings.Contains(said, "expected value but found") && !strings.HasPrefix(said, "invalid datetime") &&
		!strings.Contains(said, "end with a newline") {
		return nil
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
		return &slip{mark, fmt.Sprintf("%s is not a value", value), "write true or false"}
	}
	if _, isTime := strings.CutPrefix(said, "invalid datetime"); isTime && strings.Contains(value, ":") {
		return &slip{mark, fmt.Sprintf("%s has no quotes", value), fmt.Sprintf("put the count in quotes: %q", value)}
	}
	if strings.ContainsAny(value, "\\=") || !strings.ContainsFunc(value, unicode.IsLetter) {
		return nil
	}
	return &slip{mark, fmt.Sprintf("%s has no quotes", value), fmt.Sprintf("put it in quotes: %q", value)}
}
