package repeats

import (
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// sent is what words say that send the players elsewhere. The file has to play each of it.
type sent struct {
	at source.Span

	capo, segno    bool // back to the beginning, or to the segno
	toCoda, fine   bool // here
	alCoda         bool // a jump that leads to a coda later
	alFine         bool // a jump that ends at a fine
	repeat         bool
	least, most    int // how often it is played in all, if the words say so
	drawn, strange bool
}

// The words of jumps as they are written, in lower case, with single spaces and without brackets around them.
var (
	capoWords   = regexp.MustCompile(`\bd\. ?c\b|^dc\b|\bda capo\b`)
	segnoWords  = regexp.MustCompile(`\bd\. ?s\b|^ds\b|\bdal segno\b`)
	toCodaWords = regexp.MustCompile(`\bto (the )?(coda\b|[⊕𝄌\x{E048}])`)
	alCodaWords = regexp.MustCompile(`\bal? (coda\b|[⊕𝄌\x{E048}])`)
	alFineWords = regexp.MustCompile(`\bal? fine\b`)
	fineWords   = regexp.MustCompile(`^(al )?fine$`)
	repeatWords = regexp.MustCompile(`^repeat\b|^(open|vamp)\b.*\brepeat\b`)
	timesWords  = regexp.MustCompile(`\b([0-9]+|two|three|four|five|six|seven|eight|due|tre|quattro) ?` +
		`(x|times|volte|fois|mal)\b|\bx ?([0-9]+)\b`)
	onlyTimes = regexp.MustCompile(`\b([0-9]+(st|nd|rd|th)|first|second|third|fourth|last) ?(time|x)\b` +
		`|\b([0-9]+x|x[0-9]+) only\b|\bonly ([0-9]+x|x[0-9]+)\b` +
		`|\btacet\b.*\b([0-9]+ ?x|x ?[0-9]+)\b|\b([0-9]+ ?x|x ?[0-9]+)\b.*\b(tacet|play)\b` +
		`|\b[0-9]+\. ?(x|mal|time)\b|\b[0-9]+ ?(re|ère|er|e|ème|eme) fois\b` +
		`|\b([0-9]+ ?(a|ma|da|ta)|[0-9]+ ?ª|prima|seconda|terza|ultima) volta\b` +
		`|\b(on|in|at) (the |first |last )?repeats?\b|\brepeats? only\b|\b(no|not on|tacet on) repeats?\b`)
	openTimes = regexp.MustCompile(`\bvamps?\b|\brepeat\b.*\b(ad lib|ad libitum|until|till|open)\b|\bopen repeat\b` +
		`|\b(until|till|til|wait for) (the )?cue\b|\bon cue\b|\bsafety\b`)
)

var numberWords = map[string]int{"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
	"due": 2, "tre": 3, "quattro": 4}

// plainWords are words in lower case, with single spaces, and without marks around them.
func plainWords(text string) string {
	text = strings.NewReplacer("×", "x", "Ø", "coda").Replace(text)
	text = strings.ToLower(strings.Join(strings.Fields(text), " "))
	return strings.Trim(text, " .,;:!-()[]\"“”")
}

// OnlySometimes reports whether words say that something is for one time of a repeat, such as "2nd time only".
func OnlySometimes(text string) bool { return onlyTimes.MatchString(plainWords(text)) }

// Open reports whether words leave open how often something is played, such as "vamp".
func Open(text string) bool { return openTimes.MatchString(plainWords(text)) }

// Words reads the words of one direction, all of them together: what sends the players elsewhere has to be there for
// playback too.
func (s *JumpSigns) Words(text string, at source.Span, bar int) {
	words := plainWords(text)
	x := sent{at: at,
		capo: capoWords.MatchString(words), segno: segnoWords.MatchString(words),
		toCoda: toCodaWords.MatchString(words), alCoda: alCodaWords.MatchString(words),
		alFine: alFineWords.MatchString(words), fine: fineWords.MatchString(words),
		repeat: repeatWords.MatchString(words)}
	if m := timesWords.FindStringSubmatch(words); m != nil && !onlyTimes.MatchString(words) {
		x.least, _ = strconv.Atoi(m[1] + m[3])
		if n, named := numberWords[m[1]]; named {
			x.least = n
		}
		if x.most = x.least; x.repeat { // "Repeat 3x": played three times, or once and three times again
			x.most++
		}
	}
	if x.capo || x.segno || x.toCoda || x.alCoda || x.alFine || x.fine || x.repeat || x.most > 0 {
		s.sent(x, bar)
	}
}

// Coda notes a coda sign that is drawn in a measure.
func (s *JumpSigns) Coda(at source.Span, bar int) { s.sent(sent{at: at, drawn: true}, bar) }

// mostSent is how many words and signs of one measure are kept. Those of further parts are the same.
const mostSent = 1000

func (s *JumpSigns) sent(x sent, bar int) {
	if s.words == nil {
		s.words = map[int][]sent{}
	}
	if len(s.words[bar]) < mostSent {
		s.words[bar] = append(s.words[bar], x)
	}
}

// unplayed finds words and signs that the file does not play.
func (s *JumpSigns) unplayed() (at source.Span, fault *source.Fault) {
	bars := slices.Sorted(maps.Keys(s.words))
	drawn := 0
	for _, bar := range bars {
		if slices.ContainsFunc(s.words[bar], func(x sent) bool { return x.drawn }) {
			drawn++
		}
	}
	for _, bar := range bars {
		for _, x := range s.words[bar] {
			if x.strange || !x.drawn && !s.plays(x, bar) {
				return x.at, onlyWords()
			}
			// A coda sign alone leads nowhere. Two of them do, and so does one beside a jump.
			if x.drawn && (drawn > 1 || len(s.jumps) > 0) && !s.playsCoda(bar) {
				return x.at, onlyDrawn()
			}
		}
	}
	return at, nil
}

// plays reports whether the file plays what words in a measure say.
func (s *JumpSigns) plays(x sent, bar int) bool {
	j, jumps := s.jumps[bar]
	_, leaves := s.toCoda[bar]
	_, ends := s.fine[bar]
	switch {
	case (x.capo || x.segno || x.alCoda || x.alFine && !x.fine) && !jumps,
		x.capo && !x.segno && !j.capo, x.segno && !x.capo && j.capo,
		x.alCoda && len(s.toCoda) == 0, x.alFine && len(s.fine) == 0,
		x.toCoda && !x.alCoda && !leaves,
		x.fine && !ends && !(x.alFine && jumps):
		return false
	}
	if x.most == 0 {
		_, back := s.backward[bar]
		return !x.repeat || back
	}
	for _, last := range slices.Sorted(maps.Keys(s.backward)) { // the next one, whose measures these are
		if last >= bar {
			times := s.backward[last].times
			return x.least <= times && times <= x.most
		}
	}
	return false
}

// playsCoda reports whether the file leaves for a coda in a measure, or one begins there.
func (s *JumpSigns) playsCoda(bar int) bool {
	if _, leaves := s.toCoda[bar]; leaves {
		return true
	}
	for _, coda := range s.codas {
		if coda == bar {
			return true
		}
	}
	return false
}
