package field

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"backfield/layout/source"
)

// Word is one of a staff's own words for dots, and what it stands for in the words that are read: "Left" for "side 1".
// To may be empty: then the word says nothing.
type Word struct{ From, To string }

// Saying returns f for dots that have a staff's own words in them. Of two words that could be meant, the longer is.
func (f Field) Saying(words []Word) Field {
	f.words = slices.Concat(f.words, words)
	slices.SortStableFunc(f.words, func(a, b Word) int { return len(b.From) - len(a.From) })
	return f
}

// InWords is a dot, or a half of one, with the words that are read in the place of the staff's own.
func (f Field) InWords(text string) string { return f.translate(text).text }

// translated is a text in the words that are read, and where each of its bytes comes from: the bytes lo to hi of the
// text as written.
type translated struct {
	text   string
	lo, hi []int
}

func (f Field) translate(text string) translated {
	if len(f.words) == 0 {
		return translated{text: text}
	}
	var t translated
	var b strings.Builder
	take := func(s string, lo, hi, each int) {
		for i := range len(s) {
			t.lo, t.hi = append(t.lo, lo+i*each), append(t.hi, hi+i*each)
		}
		b.WriteString(s)
	}
	for at := 0; at < len(text); {
		i := slices.IndexFunc(f.words, func(w Word) bool { return begins(text, at, w.From) })
		if i < 0 {
			take(text[at:at+1], at, at+1, 1)
			at++
			continue
		}
		from, to := f.words[i].From, f.words[i].To
		if to != "" { // spaces keep "R40" from becoming "side 240"
			to = " " + to + " "
		}
		take(to, at, at+len(from), 0)
		at += len(from)
	}
	t.text = strings.TrimRight(b.String(), " ")
	return t
}

// place returns the bytes of the text as written that the bytes lo to hi come from.
func (t translated) place(lo, hi int) (int, int) {
	if len(t.lo) == 0 {
		return lo, hi
	}
	last := len(t.lo) - 1
	return t.lo[min(lo, last)], t.hi[min(max(hi-1, 0), last)]
}

// pointAt makes a fault of the translated text one of the text as written, also in what is to be said of a word.
func (t translated) pointAt(text string, fault *source.Fault) {
	fault.Lo, fault.Hi = t.place(fault.Lo, fault.Hi)
	if fault.Word == "" || len(t.lo) == 0 {
		return
	}
	as := text[fault.Lo:fault.Hi]
	said := strings.NewReplacer(strconv.Quote(fault.Word), strconv.Quote(as),
		strconv.Quote(strings.ToLower(fault.Word)), strconv.Quote(as))
	fault.What, fault.Do, fault.Word = said.Replace(fault.What), said.Replace(fault.Do), as
}

// begins reports whether a word is at a place of the text, in any case, and neither letters nor digits go on with it.
func begins(text string, at int, word string) bool {
	end := at + len(word)
	return word != "" && end <= len(text) && strings.EqualFold(text[at:end], word) &&
		(at == 0 || !goesOn(text[at-1], word[0])) && (end == len(text) || !goesOn(word[len(word)-1], text[end]))
}

// goesOn reports whether a byte goes on with what the one before it is: letters with letters, digits with digits.
func goesOn(a, b byte) bool { return wordy(a) && wordy(b) || isDigit(a) && isDigit(b) }

func wordy(c byte) bool { return isLetter(c) || c >= utf8.RuneSelf }

// known are the words that dots are read by. Others are a staff's own.
var known = strings.Fields("side s s1 s2 side1 side2 steps step st inside in outside out of on at the goal g yd yds " +
	"yard yards line ln yl front infront ifo back rear behind beh bhd home visitor visitors hash hashes mark marks " +
	"hashmark sideline sl fsl hsl fh hh bh vh bsl vsl a b")

func isKnown(word string) bool { return slices.Contains(known, word) }

// Strange lists the words of a dot, or of a half of one, that are a staff's own: as written, in brackets where they are.
func (f Field) Strange(text string) (words []string) {
	t := f.translate(text)
	if _, _, fault := f.ReadDot(text); fault == nil {
		return nil
	}
	at := 0 // of a half in the text
	for _, half := range strings.FieldsFunc(t.text, func(r rune) bool { return strings.ContainsRune(";|\n", r) }) {
		at += strings.Index(t.text[at:], half)
		r, fault := read(half, "")
		if _, wrong := f.depthOf(half); fault != nil || wrong == nil {
			continue
		}
		for _, x := range r.tokens {
			if !x.number && !isKnown(x.text) && !f.namesOwnHash(x.text) {
				lo, hi := t.place(at+x.lo, at+x.hi)
				words = append(words, text[lo:hi])
			}
		}
	}
	return words
}

// saysAgain reports whether words in brackets only repeat which line is meant, or at a hash which side of the field it is
// on: "front hash (home sideline)", as a legend may have it.
func (f Field) saysAgain(word string, line float64) bool {
	inner := strings.Join(strings.Fields(strings.Trim(word, "()")), " ")
	ofFront := homeLine.MatchString(inner)
	if !ofFront && !visitorLine.MatchString(inner) || ofFront != (line < f.WidthM/2) {
		return false
	}
	atSide := line == 0 || line == f.WidthM
	return !atSide || !strings.HasSuffix(inner, "hash")
}

var (
	homeLine    = regexp.MustCompile(`^(?:front|home) (?:hash|side ?line)$`)
	visitorLine = regexp.MustCompile(`^(?:back|visitors?) (?:hash|side ?line)$`)
)

// namesOwnHash reports whether words in brackets after a hash name the rule book that the field is of.
func (f Field) namesOwnHash(word string) bool {
	switch word {
	case "(hs)", "(high school)":
		return f.Code == "high-school"
	case "(ncaa)", "(college)":
		return f.Code == "college"
	}
	return false
}
