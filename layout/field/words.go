package field

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"backfield/layout/source"
)

// token is one word, in small letters, or one number.
type token struct {
	text   string
	number bool
	value  float64
	lo, hi int
}

// dotReader goes through the words of one half of a dot.
type dotReader struct {
	text     string
	tokens   []token
	at       int
	numberAt int // where steps last found its number
	form     string
}

// read cuts text into words and numbers. Commas, colons and periods separate words; "S1" is one word.
func read(text, form string) (*dotReader, *source.Fault) {
	r := &dotReader{text: text, form: form}
	for i := 0; i < len(text); {
		lo := i
		switch c := text[i]; {
		case isDigit(c) || c == '.' && i+1 < len(text) && isDigit(text[i+1]):
			for i < len(text) && (isDigit(text[i]) || text[i] == '.' || text[i] == '/' ||
				strings.HasPrefix(text[i:], slash)) {
				i++
				for i < len(text) && !utf8.RuneStart(text[i]) {
					i++
				}
			}
			if end := lo + len(exponent.FindString(text[lo:])); end > i {
				return nil, oddNumber(text, lo, end, form)
			}
			value, ok := number(strings.ReplaceAll(strings.TrimSuffix(text[lo:i], "."), slash, "/"))
			if !ok {
				return nil, notANumber(text, lo, i, form)
			}
			r.tokens = append(r.tokens, token{text[lo:i], true, value, lo, i})
		case fraction(text[lo:]) != "":
			sign := fraction(text[lo:])
			i += len(sign)
			value, _ := number(fractions[sign])
			r.tokens = append(r.tokens, token{fractions[sign], true, value, lo, i})
		case c == '(' && strings.Contains(text[i:], ")"):
			i += strings.IndexByte(text[i:], ')') + 1
			r.tokens = append(r.tokens, token{text: strings.ToLower(text[lo:i]), lo: lo, hi: i})
		case c == '-' && i > 0 && isDigit(text[i-1]) && afterWhole.MatchString(text[i:]): // 3-1/4 is 3 1/4
			i++
		case isLetter(c):
			for i < len(text) && isLetter(text[i]) {
				i++
			}
			word := strings.ToLower(text[lo:i])
			if (word == "s" || word == "side") && i < len(text) && (text[i] == '1' || text[i] == '2') &&
				(i+1 == len(text) || !isDigit(text[i+1]) && text[i+1] != '.') {
				word, i = word+text[i:i+1], i+1
			}
			r.tokens = append(r.tokens, token{text: word, lo: lo, hi: i})
		case c == '-' && i+1 < len(text) && (isDigit(text[i+1]) || text[i+1] == '.'):
			return nil, minusInDot(lo, form)
		case strings.IndexByte(" \t,:.-", c) >= 0:
			i++
		default:
			sign, n := utf8.DecodeRuneInString(text[i:])
			switch {
			case unicode.IsDigit(sign):
				return nil, foreignDigit(lo, n, sign, form)
			case !unicode.IsSpace(sign):
				return nil, strangeCharacter(text, lo, form)
			}
			i += n // a space of another width, or one that keeps words in one line
		}
	}
	if len(r.tokens) == 0 {
		return nil, emptyHalf(text, form)
	}
	return r, nil
}

// exponent is a number as a program may write a large or a small one, or in base 16.
var exponent = regexp.MustCompile(`(?i)^(?:\d[\d.]*e[+-]?\d+|0x[\da-f]+)`)

// slash is the one of a fraction, as some programs write it.
const slash = "\u2044"

// fractions are signs for parts of a step.
var fractions = map[string]string{"½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8",
	"⅝": "5/8", "⅞": "7/8"}

// fraction is the sign that a text begins with, "" where it begins with none.
func fraction(text string) string {
	_, n := utf8.DecodeRuneInString(text)
	if fractions[text[:n]] == "" {
		return ""
	}
	return text[:n]
}

// afterWhole is what makes a hyphen after a whole number join the two, and no minus sign.
var afterWhole = regexp.MustCompile(`^-(?:\d+(?:/|` + slash + `)\d|[½⅓⅔¼¾⅛⅜⅝⅞])`)

// number reads "2", "2.5" and "1/2".
func number(s string) (float64, bool) {
	if over, under, ok := strings.Cut(s, "/"); ok {
		a, err1 := strconv.ParseFloat(over, 64)
		b, err2 := strconv.ParseFloat(under, 64)
		return a / b, err1 == nil && err2 == nil && b > 0 && a < b
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

func isDigit(c byte) bool  { return c >= '0' && c <= '9' }
func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }

func (r *dotReader) peek() token {
	if r.at < len(r.tokens) {
		return r.tokens[r.at]
	}
	return token{lo: len(r.text), hi: len(r.text)}
}

// word takes the next word if it is one of these, and returns it.
func (r *dotReader) word(any ...string) string {
	t := r.peek()
	for _, w := range any {
		if !t.number && t.text == w {
			r.at++
			return w
		}
	}
	return ""
}

// words takes this sequence of words if it comes next.
func (r *dotReader) words(sequence ...string) bool {
	from := r.at
	for _, w := range sequence {
		if r.word(w) == "" {
			r.at = from
			return false
		}
	}
	return true
}

// side reads side 1 as -1, side 2 as +1, and nothing as 0.
func (r *dotReader) side() int {
	switch r.word("s1", "side1", "s2", "side2") {
	case "s1", "side1":
		return -1
	case "s2", "side2":
		return 1
	}
	if next := r.at + 1; next < len(r.tokens) && (r.peek().text == "side" || r.peek().text == "s") {
		switch t := r.tokens[next]; t.text {
		case "1", "a":
			r.at += 2
			return -1
		case "2", "b":
			r.at += 2
			return 1
		}
	}
	return 0
}

// steps reads "2", "2.5", "2 1/2", with or without the word steps.
func (r *dotReader) steps() (v float64, ok bool, fault *source.Fault) {
	t := r.peek()
	if !t.number {
		return 0, false, nil
	}
	r.numberAt = r.at
	v = t.value
	r.at++
	if next := r.peek(); next.number && isFraction(next.text) && !isFraction(t.text) && v == math.Trunc(v) {
		v += next.value
		r.at++
	}
	if v > mostSteps {
		return 0, false, tooManySteps(t, v, r.form)
	}
	r.word("steps", "step", "st")
	return v, true, nil
}

func isFraction(text string) bool { return strings.ContainsAny(text, "/"+slash) }

// fault points at the i-th token, or past the end.
func (r *dotReader) fault(i int, what, do string) *source.Fault {
	if i >= 0 && i < len(r.tokens) {
		return &source.Fault{Lo: r.tokens[i].lo, Hi: r.tokens[i].hi, What: what, Do: do}
	}
	return &source.Fault{Lo: 0, Hi: len(r.text), What: what, Do: do}
}
