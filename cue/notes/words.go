package notes

import (
	"fmt"
	"regexp"
	"strings"
)

// The words that say who of a part plays, as whole phrases: "(Fl. solo)" and "2nd time only" are about something else.
var (
	soloWords = regexp.MustCompile(`(?i)^(?:(?:(?:\w+ )?mute|muted|open|con sord(?:ino|\.)|senza sord(?:ino|\.)), )?` +
		`[(\[]?(solo|soli)[)\].!]*(,.*| [(\[]?(?:all )?(?:the )?(?:others|gli altri) tacet[)\].!]*)?$`)
	tuttiWords = regexp.MustCompile(`(?i)\b(tutti|unis|unison|a ?2|end (of )?sol[oi])\b` +
		`|^[(\[]?(?:play )?all(?: play| players)?[)\].!]*(,.*)?$`)
	deskWords  = regexp.MustCompile(`(?i)^[(\[]?([1-9])(?:\.|st|nd|rd|th)(?: player)?,?( \(?solo\)?)?[)\].!]*$`)
	maybeWords = regexp.MustCompile(`(?i)\bsol[oi]\b|^[(\[]?[1-9](\.|st\b|nd\b|rd\b|th\b)|\btacet\b|\ba ?[3-9]\b` +
		`|\b(one|two|three|four|[1-9]) (players?|only|on a part|per part)\b|\b(others|altri)\b|^[(\[]?all\b[^'’]*$` +
		`|^[(\[]?half[)\].!]*$|\bhalf (of|the|section|players?|only)\b|\b(inside|outside|last|first) players?\b`)
)

// Words that are a hairpin up to the next mark, and those that say there is none.
var (
	louderWords = regexp.MustCompile(`(?i)\bcresc`)
	softerWords = regexp.MustCompile(`(?i)\b(dim|dimin|diminuendo|decresc|decrescendo)\b`)
	noChange    = regexp.MustCompile(`(?i)\b(non|no|not|senza|without|don['’]t|sans|ohne|kein)\W+` +
		`(?:(?:a|too|poco|troppo|molto)\W+)?(cresc|dim|decresc)\w*`)
)

// changeWords reports whether words begin a change of level, and which way.
func changeWords(words string) (begins, louder bool) {
	words = noChange.ReplaceAllString(words, "")
	louder = louderWords.MatchString(words)
	return louder || softerWords.MatchString(words), louder
}

// LevelOf is the level of a kid of dynamics, by its name or, of another mark, its text. It is not ok for a mark that
// does not last or that is not known.
func LevelOf(mark *Element) (db float64, ok bool) {
	if mark.Name == "other-dynamics" {
		return levelWords(mark.Text)
	}
	return lastingDB(mark.Name)
}

// isMark finds marks of level among words, which are written in small letters.
var isMark = regexp.MustCompile(`^(p{1,6}|mp|mf|f{1,6}|fp)$`)

// plainMark are the words beside a mark that do not change its level.
var plainMark = map[string]bool{"sub": true, "subito": true, "sempre": true, "always": true, "suddenly": true,
	"espr": true, "espressivo": true, "dolce": true, "cantabile": true, "cant": true, "marc": true, "marcato": true,
	"legato": true, "leggiero": true, "warm": true, "bold": true, "solo": true, "soli": true, "tutti": true}

// tokens are the words of a text without the marks around them.
func tokens(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" \t\n\u00a0.,;:!()[]", r) })
}

// levelWords reads a level that is written as words, such as "sub. pp".
func levelWords(text string) (db float64, ok bool) {
	for _, clause := range strings.Split(noChange.ReplaceAllString(text, ""), ",") {
		marks, others := 0, 0
		for _, word := range tokens(clause) {
			switch {
			case isMark.MatchString(word):
				marks++
				db, ok = lastingDB(word)
			case !plainMark[strings.ToLower(word)]:
				others++
			}
		}
		if marks == 1 && others == 0 {
			return db, ok
		}
	}
	return 0, false
}

// unreadLevel reports whether words have a mark of level that is not read.
func unreadLevel(text string) bool {
	for _, word := range tokens(text) {
		if isMark.MatchString(word) {
			_, ok := levelWords(text)
			return !ok
		}
	}
	return false
}

// read reports whether words say something that is read.
func read(words string) bool {
	begins, _ := changeWords(words)
	_, level := levelWords(words)
	return begins || level || whoPlays(words)
}

func whoPlays(words string) bool {
	return soloWords.MatchString(words) || tuttiWords.MatchString(words) || deskWords.MatchString(words)
}

// Words are the words of a direction, all of them together: programs cut words where their font changes, "2" and "nd".
// Where that says nothing, they are taken as separate words.
func Words(e *Element) string {
	var glued, spaced []string
	for _, t := range e.All("direction-type") {
		piece := ""
		for _, k := range t.All("words") {
			piece, spaced = piece+k.Text, append(spaced, k.Text)
		}
		glued = append(glued, piece)
	}
	text, apart := tidy(glued), tidy(spaced)
	if !about(text) && about(apart) {
		return apart
	}
	return text
}

// tidy puts pieces together with single spaces.
func tidy(pieces []string) string {
	return strings.Join(strings.Fields(strings.Join(pieces, " ")), " ")
}

// about reports whether words are about who plays or how loudly.
func about(words string) bool {
	return read(words) || maybeWords.MatchString(words) || unreadLevel(words) || noChange.MatchString(words)
}

// Unread says what of a direction has no effect although it is about who plays or how loudly, empty if nothing.
func Unread(e *Element, part string) string {
	words := Words(e)
	switch {
	case whoPlays(words):
	case maybeWords.MatchString(words):
		return fmt.Sprintf("the words %q: they do not clearly say who of %s plays", clip(words), clip(part))
	}
	if unreadLevel(words) {
		return fmt.Sprintf("the level in the words %q", clip(words))
	}
	marked := false
	for _, t := range e.All("direction-type") {
		for _, d := range t.All("dynamics") {
			marked = marked || len(d.Kids) > 0
			if text := UnreadMark(d); text != "" {
				return text
			}
		}
		marked = marked || t.Kid("wedge") != nil
	}
	if s := e.Kid("sound"); s != nil && s.Attr("dynamics") != "" && !marked && !read(words) {
		return unreadSound(s)
	}
	return ""
}

// UnreadMark says which mark of a dynamics element has no effect because it is not known.
func UnreadMark(e *Element) string {
	for _, k := range e.All("other-dynamics") {
		if _, ok := LevelOf(k); !ok {
			return fmt.Sprintf("the mark %q", clip(strings.TrimSpace(k.Text)))
		}
	}
	return ""
}

// UnreadSound says which level of a sound element that is in no direction has no effect, empty if it has none.
func UnreadSound(e *Element) string {
	if e.Attr("dynamics") == "" {
		return ""
	}
	return unreadSound(e)
}

func unreadSound(e *Element) string {
	return fmt.Sprintf("the level %q that the file plays here: no mark such as mf is beside it",
		clip(e.Attr("dynamics")))
}

// clip keeps what a line quotes of a file short.
func clip(text string) string { return strings.ToValidUTF8(text[:min(len(text), 40)], "") }
