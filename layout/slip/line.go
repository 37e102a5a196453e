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
	at := source.Span{File: s.at.File, Start: s.lo + lo, End: s.lo + min(hi, len(s.line))}
	return &Slip{At: at, What: what, Do: do}
}

var (
	shortHeader = regexp.MustCompile(`^\s*(?:\[\[?\s*([\w.-]+)\s*\]?|\[\s*([\w.-]+)\s*\]\])\s*$`)
	// headerAndMore is a header with something behind it.
	headerAndMore = regexp.MustCompile(`^\s*(\[\[?\s*[\w.-]+\s*\]\]?)\s*([^\s\]].*?)\s*$`)
	decimalComma  = regexp.MustCompile(`=\s*(-?\d+),(\d+)\s*(?:[,}]|$)`)
	colonKey      = regexp.MustCompile(`(?:^|[{,])\s*([\w.-]+)\s*:`)
	keyAlone      = regexp.MustCompile(`(?:^|[{,])\s*([\w.-]+)\s*$`)
	oddHeader     = regexp.MustCompile(`^\s*([\[({<]{0,2})\s*([\w.-]+)\s*([\])}>]{1,2})\s*$`)
	oddComment    = regexp.MustCompile(`^\s*(//+|;+|--+|%+)`)
	firstWord     = regexp.MustCompile(`^\s*[\w.-]+(\s|$)`)
	firstKey      = regexp.MustCompile(`^\s*[\w.-]+\s*=`)
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
	right := s.headerOf(name)
	if (open == 2 || m[2] != "") && !strings.HasPrefix(right, "[[") {
		right = "[" + right + "]"
	}
	at := strings.Index(s.line, "[")
	return s.mark(at, len(strings.TrimRight(s.line, " \t")), "a bracket is missing", "write "+right)
}

// headerOf is the header of a table, or of an entry where the file has others of that name.
func (s stop) headerOf(name string) string {
	if strings.Contains(s.at.File.Text, "[["+name+"]]") {
		return "[[" + name + "]]"
	}
	return "[" + name + "]"
}

// wrongBrackets is about a header in brackets of another kind, or with a closing one alone.
func wrongBrackets(s stop) *Slip {
	m := oddHeader.FindStringSubmatchIndex(s.bare)
	if m == nil || inBrackets(s.at.File.Text[:s.lo]) {
		return nil
	}
	right := s.headerOf(s.line[m[4]:m[5]])
	if strings.TrimSpace(s.line) == right {
		return nil
	}
	return s.mark(m[2], m[7], "the brackets of this header are wrong", "write "+right)
}

// afterHeader is about words behind a header, most likely a comment.
func afterHeader(s stop) *Slip {
	m := headerAndMore.FindStringSubmatchIndex(s.bare)
	if m == nil || s.col < m[3] || inBrackets(s.at.File.Text[:s.lo]) {
		return nil
	}
	if pairStart.MatchString(s.bare[m[4]:]) {
		return s.mark(m[4], m[5], "a key is in the line of a header", "put it in a line of its own")
	}
	return s.mark(m[4], m[5], fmt.Sprintf("words are after the header %s", s.line[m[2]:m[3]]),
		"put # before them if they are a comment")
}

// comment is about a comment as other languages begin it.
func comment(s stop) *Slip {
	m := oddComment.FindStringSubmatchIndex(s.bare)
	if m == nil || s.col > m[3] && !strings.Contains(s.reason, "'.' or '='") {
		return nil
	}
	return s.mark(m[2], m[3], "a comment begins with #", "write # instead")
}

// apostrophe is about a text in single quotes that has an apostrophe.
func apostrophe(s stop) *Slip {
	if s.col == 0 || s.line[s.col-1] != '\'' || s.next >= 0x80 || !unicode.IsLetter(rune(s.next)) {
		return nil
	}
	return s.mark(s.col-1, s.col, "a text in single quotes ends at this apostrophe",
		`put the text in double quotes (")`)
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
	opensAnother := s.next == '{' && strings.Contains(s.reason, "'.' or '='")
	goesOn := strings.TrimSpace(s.line[:s.col]) == "" && pairStart.MatchString(s.line) || s.next == ']'
	if !opensAnother && !(goesOn && strings.Contains(s.reason, "inline table terminator")) {
		return nil
	}
	list := unclosed(s.at.File.Text[:s.at.Start], '{', '}')
	if len(list) == 0 {
		return nil
	}
	open := list[len(list)-1]
	return &Slip{At: source.Span{File: s.at.File, Start: open, End: open + 1},
		What: "this table has no closing }", Do: "add it"}
}

// openQuote is about a string that nothing closes in its line.
func openQuote(s stop) *Slip {
	at := strings.IndexAny(s.bare, `"'`) // the whole strings are blank
	if at < 0 || strings.Count(s.bare, s.bare[at:at+1]) != 1 ||
		s.bare[at] == '\'' && !strings.Contains(s.reason, "newline") {
		return nil
	}
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
	if m := spacedMinus.FindStringSubmatch(s.line[min(s.col, len(s.line)):]); m != nil &&
		strings.Contains(s.reason, "expected a digit") {
		return s.mark(s.col, s.col+len(m[0]), "a space is after the minus sign", "write -"+m[1])
	}
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

// spacedMinus is a minus sign that stands off its number.
var spacedMinus = regexp.MustCompile(`^-[ \t]+(\d+(?:\.\d+)?)`)

// noComma is about two values that nothing parts.
func noComma(s stop) *Slip {
	if strings.Contains(s.reason, "expected a comma") && s.next == ';' {
		return s.mark(s.col, s.col+1, "a semicolon is here", "write a comma instead")
	}
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
	another := strings.TrimSpace(quoted.ReplaceAllString(strings.ReplaceAll(s.line[s.col:], `"`, "'"), "x"))
	switch {
	case s.next == ',' && another != ",":
		return s.mark(s.col, s.col+1, "several values are after one key", `put them in a list: ["...", "..."]`)
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
	alone := strings.Contains(s.reason, "'.' or '='") && keyAlone.MatchString(s.bare[:s.col]) &&
		firstWord.MatchString(s.bare)
	switch {
	case alone && strings.TrimSpace(s.line[s.col:]) == "":
		return s.mark(0, len(s.line), fmt.Sprintf("%s is alone in its line", key()),
			fmt.Sprintf("write %s if it is a header, %s = ... if it is a key, # before it if it is a comment",
				s.headerOf(key()), key()))
	case alone && !strings.Contains(s.bare, "=") && !strings.ContainsAny(s.line, `"'[{0123456789`):
		return s.mark(0, len(s.line), "this line has no =", "put # before it if it is a comment")
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
	return &Slip{At: source.Span{File: at.File, Start: i, End: end},
		What: fmt.Sprintf("[%s] has single brackets", m[1]),
		Do:   fmt.Sprintf("write [[%s]] with double brackets: each one is a separate entry", m[1])}
}
