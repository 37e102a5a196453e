package slip

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"backfield/layout/source"
)

// stop is where the parser stopped, and what it said.
type stop struct {
	at     source.Span
	line   string // as written
	bare   string // without its strings and comments, of the same length
	lo     int    // where the line begins in the file
	col    int    // where in the line the parser stopped
	next   byte   // what it stopped at, a line end at the end
	reason string
}

// mark is a slip at the bytes from lo to hi of the line.
func (s stop) mark(lo, hi int, what, do string) *Slip {
	return &Slip{source.Span{File: s.at.File, Start: s.lo + lo, End: s.lo + min(hi, len(s.line))}, what, do}
}

var (
	shortHeader  = regexp.MustCompile(`^\s*(?:\[\[?\s*([\w.-]+)\s*\]?|\[\s*([\w.-]+)\s*\]\])\s*$`)
	decimalComma = regexp.MustCompile(`=\s*(-?\d+),(\d+)\s*(?:[,}]|$)`)
	colonKey     = regexp.MustCompile(`(?:^|[{,])\s*([\w.-]+)\s*:`)
	keyAlone     = regexp.MustCompile(`(?:^|[{,])\s*([\w.-]+)\s*$`)
	firstKey     = regexp.MustCompile(`^\s*[\w.-]+\s*=`)
)

// onLine recognizes a slip from the line that the parser stopped in; nil for none that is known.
func onLine(s stop) *Slip {
	for _, find := range []func(stop) *Slip{comma, colon, openQuote, dash, badNumber, noComma, round,
		afterValue, equals} {
		if found := find(s); found != nil {
			return found
		}
	}
	return nil
}

// header is about brackets around the name of a table.
func header(s stop) *Slip {
	m := shortHeader.FindStringSubmatch(s.bare)
	if m == nil {
		return nil
	}
	name, open := m[1]+m[2], strings.Count(s.bare, "[")
	if strings.Count(s.bare, "]") == open {
		return nil
	}
	right := "[" + name + "]"
	if open == 2 || m[2] != "" || strings.Contains(s.at.File.Text, "[["+name+"]]") {
		right = "[" + right + "]"
	}
	at := strings.Index(s.line, "[")
	return s.mark(at, len(strings.TrimRight(s.line, " \t")), "a bracket is missing", "write "+right)
}

// comma is about a decimal comma.
func comma(s stop) *Slip {
	m := decimalComma.FindStringSubmatchIndex(s.bare)
	if m == nil || m[2] > s.col {
		return nil
	}
	return s.mark(m[2], m[5], fmt.Sprintf("%s has a comma", s.line[m[2]:m[5]]),
		fmt.Sprintf("write decimals with a period: %s.%s", s.line[m[2]:m[3]], s.line[m[4]:m[5]]))
}

// colon is about a colon where an equals sign belongs.
func colon(s stop) *Slip {
	m := colonKey.FindStringSubmatchIndex(s.bare)
	if s.next != ':' || m == nil {
		return nil
	}
	key := s.line[m[2]:m[3]]
	return s.mark(m[2], m[1], fmt.Sprintf("%s has a colon after it", key), fmt.Sprintf("write %s = ...", key))
}

// brace is about a table in braces that lacks one of them.
func brace(s stop) *Slip {
	if m := firstKey.FindStringIndex(s.bare); m != nil && strings.Count(s.bare, "}") > strings.Count(s.bare, "{") {
		from := len(s.line) - len(strings.TrimLeft(s.line, " \t"))
		return s.mark(from, m[1], "this table has no opening {", "add it")
	}
	if s.next != '{' || !strings.Contains(s.reason, "'.' or '='") {
		return nil
	}
	open := strings.LastIndexByte(blank(s.at.File.Text[:s.at.Start]), '{')
	if open < 0 {
		return nil
	}
	return &Slip{source.Span{File: s.at.File, Start: open, End: open + 1}, "this table has no closing }", "add it"}
}

// openQuote is about a string that nothing closes in its line.
func openQuote(s stop) *Slip {
	if strings.Count(s.bare, `"`) != 1 { // the whole strings are blank
		return nil
	}
	at := strings.IndexByte(s.bare, '"')
	return s.mark(at, at+1, "a quote in this line has no partner",
		`put each name between two quotes ("), and look at the one before this, too`)
}

// dash is about a dash for a minus sign.
func dash(s stop) *Slip {
	rest := s.line[min(s.col, len(s.line)):]
	for _, sign := range []string{"−", "–", "—"} {
		if strings.HasPrefix(rest, sign) {
			return s.mark(s.col, s.col+len(sign), "this is a dash, not a minus sign", "write - as on the keyboard")
		}
	}
	return nil
}

// badNumber is about numbers that TOML writes in another way.
func badNumber(s stop) *Slip {
	value := strings.TrimRightFunc(bareValue.FindString(s.line[min(s.col, len(s.line)):]), unicode.IsSpace)
	right := ""
	switch {
	case strings.Contains(s.reason, "must start with a digit"):
		right = "0" + value
	case strings.Contains(s.reason, "followed by one or more digits"):
		right = value + "0"
	case strings.Contains(s.reason, "leading zeroes"):
		right = strings.TrimLeft(value, "0")
	default:
		return nil
	}
	return s.mark(s.col, s.col+len(value), fmt.Sprintf("%s is no number in TOML", value), "write "+right)
}

// noComma is about two values that nothing parts.
func noComma(s stop) *Slip {
	opens := strings.IndexByte(`"'{[`, s.next) >= 0 || s.next < 0x80 && unicode.IsLetter(rune(s.next))
	if !strings.Contains(s.reason, "expected a comma") || !opens {
		return nil
	}
	return s.mark(s.col, s.col+1, "a comma is missing before this", "put a comma between the two")
}

// round is about a list in round brackets.
func round(s stop) *Slip {
	if s.next != '(' {
		return nil
	}
	return s.mark(s.col, s.col+1, "a list has square brackets", `write ["...", "..."]`)
}

// afterValue is about what follows a value in its line.
func afterValue(s stop) *Slip {
	if !strings.Contains(s.reason, "to end with a newline") {
		return nil
	}
	switch {
	case s.next == ';' || s.next == ',':
		return s.mark(s.col, s.col+1, fmt.Sprintf("a line does not end with %c", s.next), "remove it")
	case s.next == '/':
		return s.mark(s.col, s.col+2, "a comment begins with #", "write # instead")
	case strings.Contains(s.bare[s.col:], "="):
		return s.mark(s.col, s.col+1, "two keys are in one line", "put each in a line of its own")
	}
	return nil
}

// equals is about a key whose equals sign or value is missing, or has one too many.
func equals(s stop) *Slip {
	key := func() string {
		if m := keyAlone.FindStringSubmatch(strings.TrimRight(s.bare[:s.col], "= \t")); m != nil {
			return m[1]
		}
		return "this key"
	}
	switch {
	case strings.Contains(s.reason, "'.' or '='") && keyAlone.MatchString(s.bare[:s.col]):
		return s.mark(s.col, s.col+1, fmt.Sprintf("%s has no = after it", key()), fmt.Sprintf("write %s = ...", key()))
	case strings.Contains(s.reason, "found '='"):
		return s.mark(s.col, s.col+1, "there is an = too many", "remove it")
	case strings.Contains(s.reason, `found '\n'`):
		return s.mark(s.col, s.col, fmt.Sprintf("%s has no value", key()), "write one after the =, or remove the line")
	}
	return nil
}

var asArray = regexp.MustCompile(`^Key '([\w.-]+)' was already created and cannot be used as an array`)

// single finds the single brackets above, where the parser stopped at double ones; nil for anything else.
func single(at source.Span, said string) *Slip {
	m := asArray.FindStringSubmatch(said)
	if m == nil {
		return nil
	}
	text := at.File.Text
	i := strings.Index("\n"+text, "\n["+m[1]+"]")
	if i < 0 {
		return nil
	}
	end := i + len(m[1]) + 2
	return &Slip{source.Span{File: at.File, Start: i, End: end}, fmt.Sprintf("[%s] has single brackets", m[1]),
		fmt.Sprintf("write [[%s]] with double brackets: each one is a separate entry", m[1])}
}
